package setup

import "strings"

// suggest names the known name that is nearest to what was written, or all.
func suggest(written string, known []string) string {
	best, least := "", 3
	for _, k := range known {
		if d := distance(written, k); d < least {
			best, least = k, d
		}
	}
	if best != "" {
		return "; did you mean " + best + "?"
	}
	return "; expected one of " + strings.Join(known, ", ")
}

// distance counts the letters to add, drop or change to make b of a.
func distance(a, b string) int {
	row := make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := range a {
		diagonal := row[0]
		row[0] = i + 1
		for j := range b {
			cost := diagonal
			if a[i] != b[j] {
				cost++
			}
			diagonal = row[j+1]
			row[j+1] = min(cost, row[j]+1, row[j+1]+1)
		}
	}
	return row[len(b)]
}

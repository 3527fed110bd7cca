package format

import (
	"fmt"
	"slices"
	"strings"
	"testing"
)

// A row that is wrong is an error with its line, wherever it stands: the rows
// above it are never taken for a preamble, or left out.
func TestBrokenRows(t *testing.T) {
	row := func(k int) []string { return []string{fmt.Sprintf("%de-9", k), "600.5", "1.5", "-4"} }
	for what, spoil := range map[string]func([]string) []string{
		"a word for the time":  func(r []string) []string { r[0] = "abc"; return r },
		"a word for a sample":  func(r []string) []string { r[2] = "abc"; return r },
		"a field less":         func(r []string) []string { return r[:3] },
		"a field more":         func(r []string) []string { return append(r, "7") },
		"a line of words":      func(r []string) []string { return []string{"a note"} },
		"a cell of the header": func(r []string) []string { return []string{"Time (s)", "a (V)", "b (A)", "c (V)"} },
	} {
		for _, sep := range []string{",", "\t"} {
			for _, at := range []int{1, 2, 3, 20, 38, 39, 40, 99} {
				rows := [][]string{{"Time (s)", "a (V)", "b (A)", "c (V)"}}
				for k := range 200 {
					rows = append(rows, row(k))
				}
				rows[at+1] = spoil(slices.Clone(rows[at+1]))
				var b strings.Builder
				for _, r := range rows {
					b.WriteString(strings.Join(r, sep) + "\n")
				}
				_, err := readText(Input{Name: "a.csv", Data: []byte(b.String())})
				if want := fmt.Sprintf("a.csv:%d: ", at+2); err == nil {
					t.Errorf("%s in row %d, separator %q: read", what, at, sep)
				} else if !strings.HasPrefix(err.Error(), want) && !strings.HasPrefix(err.Error(), fmt.Sprintf("a.csv:%d: ", at+3)) {
					t.Errorf("%s in row %d, separator %q: %v; want %s", what, at, sep, err, want)
				}
			}
		}
	}
}

package filters

import "math"

// endRule is how a filter treats the ends of a record.
type endRule int

const (
	oddEnds    endRule = iota // the record goes on, point symmetric
	fittedEnds                // the first and last window are fitted as a whole
)

// shortest returns how many samples a record needs.
func (e endRule) shortest(reach int) int {
	if e == fittedEnds {
		return 2*reach + 1
	}
	return reach + 1
}

// extend returns y with n samples of odd extension before and behind it,
// 2·y[0] - y[k] and the like; n < len(y).
func extend(y []float64, n int) []float64 {
	out := make([]float64, len(y)+2*n)
	copy(out[n:], y)
	last := len(y) - 1
	for k := 1; k <= n; k++ {
		out[n-k] = 2*y[0] - y[k]
		out[n+last+k] = 2*y[last] - y[last-k]
	}
	return out
}

// bridge returns y with straight lines over the samples that are not finite,
// and the indices of those. Without any it returns y itself.
func bridge(y []float64) (clean []float64, bad []int) {
	for k, v := range y {
		if v-v != 0 {
			bad = append(bad, k)
		}
	}
	if bad == nil {
		return y, nil
	}
	clean = append([]float64(nil), y...)
	for i := 0; i < len(bad); {
		first := bad[i]
		for i++; i < len(bad) && bad[i] == bad[i-1]+1; i++ {
		}
		span(clean, first, bad[i-1])
	}
	return clean, bad
}

// span fills y[first] to y[last] from their neighbours, or zeros if none.
func span(y []float64, first, last int) {
	var a, b float64
	left, right := first > 0, last < len(y)-1
	if right {
		b = y[last+1]
	}
	if a = b; left {
		a = y[first-1]
	}
	if !right {
		b = a
	}
	for k := first; k <= last; k++ {
		x := float64(k-first+1) / float64(last-first+2)
		y[k] = a*(1-x) + b*x
	}
}

// spoil sets to NaN all of out in which sample i of the input has a part. With
// odd ends a mirrored sample has no part beyond those.
func spoil(out []float64, i, reach int, ends endRule) {
	lo, hi := max(i-reach, 0), min(i+reach, len(out)-1)
	if ends == fittedEnds && i <= 2*reach {
		lo = 0
	}
	if ends == fittedEnds && i >= len(out)-1-2*reach {
		hi = len(out) - 1
	}
	for k := lo; k <= hi; k++ {
		out[k] = math.NaN()
	}
}

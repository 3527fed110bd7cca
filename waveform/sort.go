package waveform

import (
	"math"
	"slices"
)

// sorted returns the finite samples of y in ascending order: laid into bins of equal
// width, and each bin sorted by comparing. Samples of a level leave few to a bin, or
// equal ones.
func sorted(y []float64) []float64 {
	const least, bins = 512, 4096 // fewer are sorted faster by comparing
	s := make([]float64, len(y))
	lo, hi, _ := finiteRange(y)
	scale := (bins - 1) / (hi - lo)
	if len(y) < least || !(scale > 0) || math.IsInf(scale, 0) {
		copy(s, y)
		slices.Sort(s)
		return s
	}
	var ends [bins]int
	for _, v := range y {
		ends[int((v-lo)*scale)]++
	}
	sum := 0
	for k, n := range ends {
		ends[k] = sum
		sum += n
	}
	for _, v := range y {
		k := int((v - lo) * scale)
		s[ends[k]] = v
		ends[k]++
	}
	from := 0
	for _, to := range ends {
		slices.Sort(s[from:to])
		from = to
	}
	return s
}

// Nth returns the n-th smallest of the finite values y, from 0 on, and changes their
// order (Hoare's selection).
func Nth(y []float64, n int) float64 {
	for lo, hi := 0, len(y)-1; lo < hi; {
		pivot := median3(y[lo], y[(lo+hi)/2], y[hi])
		i, j := lo, hi
		for i <= j {
			for y[i] < pivot {
				i++
			}
			for y[j] > pivot {
				j--
			}
			if i <= j {
				y[i], y[j] = y[j], y[i]
				i++
				j--
			}
		}
		switch {
		case n <= j:
			hi = j
		case n >= i:
			lo = i
		default:
			return y[n]
		}
	}
	return y[n]
}

package waveform

import (
	"math"
	"slices"
)

// sorted returns the finite samples of y in ascending order. From some thousand
// samples on it is a radix sort from the last bits of the keys to the first,
// whose time grows with the number of samples only and not with their order.
func sorted(y []float64) []float64 {
	const (
		least  = 2048 // fewer are sorted faster by comparing
		bits   = 11
		size   = 1 << bits
		passes = (64 + bits - 1) / bits
	)
	if len(y) < least {
		s := slices.Clone(y)
		slices.Sort(s)
		return s
	}
	var counts [passes][size]int
	for _, v := range y {
		u := sortKey(v)
		for p := range counts {
			counts[p][u>>(p*bits)%size]++
		}
	}
	from, to, spare := y, make([]float64, len(y)), make([]float64, len(y))
	for p := range counts {
		at, shift := &counts[p], p*bits
		if at[sortKey(y[0])>>shift%size] == len(y) {
			continue // the same in all
		}
		sum := 0
		for k, n := range at {
			at[k] = sum
			sum += n
		}
		for _, v := range from {
			d := sortKey(v) >> shift % size
			to[at[d]] = v
			at[d]++
		}
		from, to, spare = to, spare, to
	}
	if &from[0] == &y[0] {
		copy(to, y)
		return to
	}
	return from
}

// sortKey returns a number that orders as v does: the bits of a negative v
// upside down, those of others above them.
func sortKey(v float64) uint64 {
	u := math.Float64bits(v)
	return u ^ (uint64(int64(u)>>63) | 1<<63)
}

package curve

import (
	"math"
	"slices"

	"slewbook/dpt/result"
)

// Spreads returns the statistics of a series for each set of conditions: mean
// (the typical value), smallest, largest, standard deviation, counts, and the
// captures that stand out. No value is deleted.
func (s *Series) Spreads() []result.Spread {
	var out []result.Spread
	for _, g := range groups(s.Points, "") {
		sp := result.Spread{Key: s.Key, Symbol: s.Symbol, Unit: s.Unit, N: len(g.points), Min: math.Inf(1), Max: math.Inf(-1), S: math.NaN(), U: math.NaN(),
			Where: g.where()}
		var us []float64
		for _, p := range g.points {
			sp.Mean += p.Y / float64(sp.N)
			sp.Min, sp.Max = min(sp.Min, p.Y), max(sp.Max, p.Y)
			if !math.IsNaN(p.U) {
				us = append(us, p.U)
			}
		}
		if sp.N > 1 {
			sum := 0.0
			for _, p := range g.points {
				sum += (p.Y - sp.Mean) * (p.Y - sp.Mean)
			}
			sp.S = math.Sqrt(sum / float64(sp.N-1))
		}
		sp.Outliers = standOut(g.points)
		if len(us) > 0 {
			slices.Sort(us)
			sp.U = us[len(us)/2]
		}
		out = append(out, sp)
	}
	return out
}

// standOutAt is the modified z-score beyond which a repeat stands out (Iglewicz
// and Hoaglin, How to Detect and Handle Outliers, ASQC 1993, from memory).
const standOutAt = 3.5

// leastRepeats is how many repeats can tell that one of them stands out.
const leastRepeats = 5

// standOut returns the captures whose modified z-score 0.6745 (y - median)/MAD is
// beyond standOutAt. Where half of the repeats are equal MAD is 0, and
// 1.2533 times the mean absolute deviation stands for MAD/0.6745 (same source).
func standOut(points []Point) []string {
	if len(points) < leastRepeats {
		return nil
	}
	ys := make([]float64, len(points))
	for k, p := range points {
		ys[k] = p.Y
	}
	m := median(ys)
	mean := 0.0
	for k, p := range points {
		ys[k] = math.Abs(p.Y - m)
		mean += ys[k] / float64(len(ys))
	}
	scale := median(ys) / 0.6745
	if scale == 0 {
		scale = 1.2533 * mean
	}
	var out []string
	for _, p := range points {
		if math.Abs(p.Y-m) > standOutAt*scale {
			out = append(out, p.Name)
		}
	}
	return out
}

// median of a copy; the mean of the two in the middle of an even number.
func median(values []float64) float64 {
	v := slices.Sorted(slices.Values(values))
	n := len(v)
	return (v[(n-1)/2] + v[n/2]) / 2
}

package curve

import (
	"math"
	"slices"

	"slewbook/dpt/result"
)

// Spreads returns the statistics of a series for each set of conditions: mean
// (the typical value), smallest, largest, standard deviation and counts. No
// value is deleted.
func (s *Series) Spreads() []result.Spread {
	var out []result.Spread
	for _, g := range groups(s.Points, "") {
		sp := result.Spread{Key: s.Key, Symbol: s.Symbol, Unit: s.Unit, N: len(g.points), Min: math.Inf(1), Max: math.Inf(-1), S: math.NaN(), U: math.NaN(),
			Where: label(g.at, func(Variable) bool { return true })}
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
		if len(us) > 0 {
			slices.Sort(us)
			sp.U = us[len(us)/2]
		}
		out = append(out, sp)
	}
	return out
}

package curve

import (
	"math"
	"slices"

	"slewbook/dpt/result"
	"slewbook/dpt/uncertainty"
)

// Repeatability is the spread of a quantity at one set of conditions, split by
// a one-way analysis of variance over the levels of a factor such as the
// seating of the device, the day or the site (ISO 5725-2, 7.4, formulas from
// memory):
//
//	s_r² = MS_within, s_L² = (MS_between - MS_within)/n0, s_R² = s_r² + s_L²,
//	n0 = (N - Σn_j²/N)/(k - 1)
type Repeatability struct {
	Key, Symbol, Unit string
	Where             string // the conditions
	N                 int    // shots
	Levels            []string
	Of                uncertainty.Repeated // the mean, with what averaging reduces apart from what it does not
	Repeat            float64              // s_r, standard deviation within a level
	Between           float64              // s_L; 0 where the levels differ less than s_r explains
	Reproduce         float64              // s_R
	F                 float64              // MS_between/MS_within
	Why               string               // why there is no split, "" if there is
}

// Study splits the spread of a series by the levels of a condition, for each
// set of bus, current, temperature and gate resistor.
func (s *Series) Study(shots []*result.Shot, factor string) []Repeatability {
	levels := map[string]string{}
	for _, shot := range shots {
		levels[shot.Capture] = conditionText(shot, factor)
	}
	var out []Repeatability
	for _, g := range groups(s.Points, "") {
		values := map[string][]float64{}
		r := Repeatability{Key: s.Key, Symbol: s.Symbol, Unit: s.Unit, N: len(g.points), Where: g.where()}
		var results []uncertainty.Result
		for _, p := range g.points {
			results = append(results, p.result("campaign"))
			l := levels[p.Name]
			if !slices.Contains(r.Levels, l) {
				r.Levels = append(r.Levels, l)
			}
			values[l] = append(values[l], p.Y)
		}
		r.Of = uncertainty.Repeat(results)
		slices.Sort(r.Levels)
		r.split(values)
		out = append(out, r)
	}
	return out
}

func (r *Repeatability) split(values map[string][]float64) {
	r.Repeat, r.Between, r.Reproduce, r.F = math.NaN(), math.NaN(), math.NaN(), math.NaN()
	n, k := float64(r.N), float64(len(r.Levels))
	switch {
	case slices.Contains(r.Levels, ""):
		r.Why = "some shots do not state the factor"
		return
	case k < 2:
		r.Why = "one level of the factor only"
		return
	case n <= k:
		r.Why = "no level has repeats"
		return
	}
	within, between, squares := 0.0, 0.0, 0.0
	for _, l := range r.Levels {
		level := values[l]
		m := float64(len(level))
		mean := 0.0
		for _, y := range level {
			mean += y / m
		}
		for _, y := range level {
			within += (y - mean) * (y - mean)
		}
		between += m * (mean - r.Of.Mean) * (mean - r.Of.Mean)
		squares += m * m
	}
	within, between = within/(n-k), between/(k-1)
	n0 := (n - squares/n) / (k - 1)
	r.F = between / within
	r.Repeat = math.Sqrt(within)
	r.Between = math.Sqrt(max(between-within, 0) / n0)
	r.Reproduce = math.Hypot(r.Repeat, r.Between)
}

package curve

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"slewbook/waveform/unit"
)

// nearPlan is how far from its planned voltage or current a point may lie and
// still count as taken there, relative (common practice, no source).
const nearPlan = 0.1

// sameWithin is how close two values of a condition count as the same: for bus
// and current relative to the smaller, closer than the steps of a plan and
// wider than the scatter of a bench (common practice, no source); the stated
// ones are the same as written.
func sameWithin(v Variable, x float64) float64 {
	switch v {
	case Current, Bus:
		return 0.05 * math.Abs(x)
	case Temperature:
		return 2
	}
	return 0.01 * math.Abs(x)
}

// cluster gives each value the mean of those that are the same within what within
// tells; NaN stays.
func cluster(values []float64, within func(x float64) float64) []float64 {
	order := make([]int, 0, len(values))
	for k, x := range values {
		if !math.IsNaN(x) {
			order = append(order, k)
		}
	}
	slices.SortStableFunc(order, func(a, b int) int {
		switch {
		case values[a] < values[b]:
			return -1
		case values[a] > values[b]:
			return 1
		}
		return 0
	})
	out := slices.Clone(values)
	for start := 0; start < len(order); {
		end, sum := start, 0.0
		first := values[order[start]]
		for end < len(order) && values[order[end]] <= first+within(first) {
			sum += values[order[end]]
			end++
		}
		mean := sum / float64(end-start)
		if values[order[end-1]] == first {
			mean = first // to the last digit
		}
		for _, k := range order[start:end] {
			out[k] = mean
		}
		start = end
	}
	return out
}

// clusters gives each point its nominal conditions: the planned bus voltage and
// current where all points have them, else the mean of those that were measured
// alike. Plans may have narrower steps than measured values can be told apart by.
func clusters(points []Point) []At {
	out := make([]At, len(points))
	values := make([]float64, len(points))
	for _, v := range Variables {
		within := func(x float64) float64 { return sameWithin(v, x) }
		planned := 0
		for k, p := range points {
			values[k] = p.Get(v)
			if x, ok := p.plan(v); ok {
				values[k] = x
				planned++
			}
		}
		if planned == len(points) {
			within = func(x float64) float64 { return 1e-3 * math.Abs(x) }
		}
		for k, x := range cluster(values, within) {
			out[k] = out[k].With(v, x)
		}
	}
	return out
}

// distinct counts the different values of a variable, those not known left out.
func distinct(places []At, v Variable) int {
	seen := map[float64]bool{}
	for _, at := range places {
		if x := at.Get(v); !math.IsNaN(x) {
			seen[x] = true
		}
	}
	return len(seen)
}

// group is points that are alike but for one condition.
type group struct {
	at     At // nominal conditions; the free one is NaN
	part   string
	points []Point
}

// groups splits points into those of one part that differ in one condition only, or in
// none where over is "".
func groups(points []Point, over Variable) []group {
	var out []group
	index := map[string]int{}
	for k, at := range clusters(points) {
		if over != "" {
			at = at.With(over, math.NaN())
		}
		key := fmt.Sprint(points[k].Part, at)
		n, ok := index[key]
		if !ok {
			n = len(out)
			index[key] = n
			out = append(out, group{at: at, part: points[k].Part})
		}
		out[n].points = append(out[n].points, points[k])
	}
	slices.SortStableFunc(out, func(a, b group) int {
		for _, v := range []Variable{Bus, Temperature, Gate, Current} {
			switch x, y := a.at.Get(v), b.at.Get(v); {
			case x < y:
				return -1
			case x > y:
				return 1
			}
		}
		return strings.Compare(a.part, b.part)
	})
	return out
}

// where names the conditions of a group.
func (g group) where() string {
	return join(g.part, label(g.at, func(Variable) bool { return true }))
}

// join puts a part in front of conditions.
func join(part, conditions string) string {
	if part == "" || conditions == "" {
		return part + conditions
	}
	return part + ", " + conditions
}

// label names conditions: "V = 600 V, T_j = 25 °C". Those in skip are left out.
func label(at At, show func(Variable) bool) string {
	var parts []string
	for _, v := range []Variable{Bus, Current, Temperature, Gate} {
		if x := at.Get(v); !math.IsNaN(x) && show(v) {
			parts = append(parts, symbols[v]+" = "+unit.Format(x, v.Unit(), 3))
		}
	}
	return strings.Join(parts, ", ")
}

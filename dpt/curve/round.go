package curve

import "math"

// Rounded is a measured value brought to a round test point.
type Rounded struct {
	Key, Unit string
	Moved
	Inside bool // the test point lies within the data
}

// rounded brings each point of a series to the voltage and current that were planned for
// it, else to the values of axes that it was taken near, along the surface. Points for
// which nothing tells a round value are left out.
func (s *Series) rounded(surface *Fit, axes map[Variable][]float64) []Rounded {
	var out []Rounded
	for _, p := range s.Points {
		to, known := p.At, false
		for _, v := range []Variable{Bus, Current} {
			if x, ok := p.round(v, axes[v]); ok {
				to, known = to.With(v, x), true
			}
		}
		if m := surface.Move(p, to); known && m.Y-m.Y == 0 {
			out = append(out, Rounded{s.Key, s.Unit, m, surface.Inside(to)})
		}
	}
	return out
}

// round returns the round value of a variable that the point was taken near.
func (p Point) round(v Variable, axis []float64) (float64, bool) {
	if x, ok := p.plan(v); ok {
		return x, true
	}
	best := math.NaN()
	for _, x := range axis {
		if off := math.Abs(p.Get(v) - x); off <= nearPlan*math.Abs(x) && !(off >= math.Abs(p.Get(v)-best)) {
			best = x
		}
	}
	return best, best == best
}

// RoundedRows returns them as a table in SI base units: where and what was measured, the
// test point, the value there with its u, and what bringing it there changed. A point
// outside the data has no value.
func RoundedRows(points []Rounded) [][]string {
	rows := [][]string{{"key", "unit", "capture", "v [V]", "i [A]", "tj [K]", "rg [ohm]", "value", "u", "at v [V]", "at i [A]", "value there", "u there", "moved", "in data"}}
	for _, r := range points {
		from := r.From
		row := []string{r.Key, r.Unit, from.Name, cell(from.V), cell(from.I), cell(from.Tj), cell(from.Rg), cell(from.Y), cell(from.U), cell(r.V), cell(r.I)}
		if r.Inside {
			row = append(row, cell(r.Y), cell(r.U), cell(r.Changed), "yes")
		} else {
			row = append(row, "", "", "", "no")
		}
		rows = append(rows, row)
	}
	return rows
}

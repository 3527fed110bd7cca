package curve

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"slewbook/dpt/result"
	"slewbook/dpt/uncertainty"
)

// Difference is one quantity of two campaigns at one set of conditions.
type Difference struct {
	Key, Symbol, Unit string
	Definition        string
	Where             string // nominal conditions
	A, B              Side
	Moved             float64             // what was added to B to bring it to A's measured conditions
	Diff              float64             // B - A
	U                 float64             // its standard uncertainty, NaN if not known
	Verdict           uncertainty.Verdict // of B against A
	Flags             []string            // conditions that are not equal
}

// Side is one campaign's part in a difference.
type Side struct {
	Captures []string
	At       At      // mean of the measured conditions
	Value    float64 // mean of the shots
	U        float64 // median of the shots' u, and their scatter over the root of their number
}

// Comparison is two campaigns side by side.
type Comparison struct {
	Differences []Difference
	Refused     []string // quantities that were not compared, with the reason
	OnlyA       []string // conditions without a partner
	OnlyB       []string
	Unequal     []string // stated conditions in which the campaigns differ
}

// Compare matches two campaigns by bus, current, temperature and gate resistor,
// and compares their quantities. shared is the standard uncertainty, relative
// to the value, that both have in common, such as the gains of the same
// channels: it scales the difference and does not add to it. Quantities of
// unlike definitions are refused.
func Compare(a, b []*result.Shot, keys []string, shared float64) (*Comparison, error) {
	if !(shared >= 0 && shared < 1) {
		return nil, fmt.Errorf("shared uncertainty %g: expected a share of the value, 0 or more", shared)
	}
	out := &Comparison{Unequal: unequal(a, b)}
	for _, key := range keys {
		sa, err := Collect(a, key)
		if err != nil {
			out.Refused = append(out.Refused, "in A: "+err.Error())
			continue
		}
		sb, err := Collect(b, key)
		if err != nil {
			out.Refused = append(out.Refused, "in B: "+err.Error())
			continue
		}
		switch {
		case len(sa.Points) == 0 || len(sb.Points) == 0:
			out.Refused = append(out.Refused, fmt.Sprintf("%s: one of the campaigns has no value", key))
		case sa.Definition != sb.Definition:
			out.Refused = append(out.Refused, fmt.Sprintf("%s: A is by %q, B by %q: unlike definitions are not compared; measure both with the same", key, sa.Definition, sb.Definition))
		default:
			out.compare(sa, sb, shared)
		}
	}
	slices.Sort(out.OnlyA)
	slices.Sort(out.OnlyB)
	out.OnlyA, out.OnlyB = slices.Compact(out.OnlyA), slices.Compact(out.OnlyB)
	return out, nil
}

// pair is the shots of both campaigns at one set of nominal conditions.
type pair struct {
	at   At
	a, b []Point
}

func (c *Comparison) compare(sa, sb *Series, shared float64) {
	both := append(slices.Clone(sa.Points), sb.Points...)
	var cells []*pair
	index := map[string]*pair{}
	for k, at := range clusters(both) {
		name := fmt.Sprint(at)
		if index[name] == nil {
			index[name] = &pair{at: at}
			cells = append(cells, index[name])
		}
		if k < len(sa.Points) {
			index[name].a = append(index[name].a, both[k])
		} else {
			index[name].b = append(index[name].b, both[k])
		}
	}
	shape := shapeOf(sa, sb)
	for _, cell := range cells {
		where := label(cell.at, func(Variable) bool { return true })
		switch {
		case len(cell.b) == 0:
			c.OnlyA = append(c.OnlyA, where)
		case len(cell.a) == 0:
			c.OnlyB = append(c.OnlyB, where)
		default:
			d := Difference{Key: sa.Key, Symbol: sa.Symbol, Unit: sa.Unit, Definition: sa.Definition, Where: where, A: side(cell.a), B: side(cell.b)}
			d.conclude(shape, shared)
			c.Differences = append(c.Differences, d)
		}
	}
}

// shapeOf returns a surface of A, else of B, along which values are brought to
// the same voltage and current; nil where neither determines one.
func shapeOf(series ...*Series) *Fit {
	for _, s := range series {
		if f, _, err := solve(NewSurface(s.Points, true), s.Points, Defaults()); err == nil && f.Free >= leastFree {
			return f
		}
	}
	return nil
}

func side(points []Point) Side {
	s := Side{U: math.NaN()}
	n := float64(len(points))
	var us []float64
	for _, p := range points {
		s.Captures = append(s.Captures, p.Name)
		s.Value += p.Y / n
		for _, v := range Variables {
			s.At = s.At.With(v, s.At.Get(v)+p.Get(v)/n)
		}
		us = append(us, p.U)
	}
	slices.Sort(us) // NaN first
	if !math.IsNaN(us[0]) {
		s.U = us[len(us)/2]
	}
	if n > 1 {
		sum := 0.0
		for _, p := range points {
			sum += (p.Y - s.Value) * (p.Y - s.Value)
		}
		s.U = math.Hypot(s.U, math.Sqrt(sum/(n-1)/n))
	}
	return s
}

// unequalFrom is the difference of measured conditions that is flagged where it
// could not be taken out, relative (common practice, no source).
const unequalFrom = 0.01

func (d *Difference) conclude(shape *Fit, shared float64) {
	b := Point{At: d.B.At, Y: d.B.Value, U: d.B.U}
	for _, v := range []Variable{Bus, Current} {
		x, y := d.A.At.Get(v), d.B.At.Get(v)
		if off := y/x - 1; math.Abs(off) > unequalFrom && shape == nil {
			d.Flags = append(d.Flags, fmt.Sprintf("%s of B is %+.1f %% off and could not be taken out", symbols[v], 100*off))
		}
	}
	if shape != nil {
		if m := shape.Move(b, d.A.At); m.Y-m.Y == 0 {
			d.Moved, b = m.Changed, m.Point
		}
	}
	d.Diff = b.Y - d.A.Value
	own := func(y, u float64) float64 { return max(u*u-shared*shared*y*y, 0) }
	d.U = math.Sqrt(own(d.A.Value, d.A.U) + own(b.Y, b.U) + shared*shared*d.Diff*d.Diff)
	if math.IsNaN(d.A.U) || math.IsNaN(b.U) {
		d.U = math.NaN()
	}
	d.Verdict = uncertainty.VerdictOf(d.Diff, d.U)
}

// unequal lists the stated conditions of which the campaigns do not have the
// same values.
func unequal(a, b []*result.Shot) []string {
	values := func(shots []*result.Shot) map[string][]string {
		out := map[string][]string{}
		for _, s := range shots {
			for _, c := range s.Conditions {
				text := conditionText(s, c.Key)
				if !slices.Contains(out[c.Key], text) {
					out[c.Key] = append(out[c.Key], text)
				}
			}
		}
		for _, v := range out {
			slices.Sort(v)
		}
		return out
	}
	va, vb := values(a), values(b)
	var keys, out []string
	for k := range va {
		keys = append(keys, k)
	}
	for k := range vb {
		keys = append(keys, k)
	}
	slices.Sort(keys)
	for _, k := range slices.Compact(keys) {
		if !slices.Equal(va[k], vb[k]) {
			out = append(out, fmt.Sprintf("%s: A %s; B %s", k, orNone(va[k]), orNone(vb[k])))
		}
	}
	return out
}

func orNone(values []string) string {
	if len(values) == 0 {
		return "not stated"
	}
	return strings.Join(values, ", ")
}

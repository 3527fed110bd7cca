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
	U                 float64             // its standard uncertainty, what both share taken out; NaN if not known
	Shared            float64             // what was taken out, as a standard uncertainty
	Verdict           uncertainty.Verdict // of B against A
	Flags             []string            // conditions that are not equal
}

// Side is one campaign's part in a difference.
type Side struct {
	Captures []string
	At       At // mean of the measured conditions
	uncertainty.Repeated
}

// Comparison is two campaigns side by side.
type Comparison struct {
	Differences []Difference
	Refused     []string // quantities that were not compared, with the reason
	OnlyA       []string // conditions without a partner
	OnlyB       []string
	Unequal     []string // stated conditions in which the campaigns differ
	Benches     string   // whether both were measured on one bench, a sentence
}

// Compare matches two campaigns by bus, current, temperature and gate resistor,
// and compares their quantities. What the shots of one bench share, such as gains
// and delay, moves both campaigns alike and drops out of the difference, as far as
// its effects are equal; campaigns of two benches, or of benches that are not
// stated, share nothing. Quantities of unlike definitions are refused.
func Compare(a, b []*result.Shot, keys []string) *Comparison {
	out := &Comparison{Unequal: unequal(a, b), Benches: benches(a, b)}
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
			out.compare(sa, sb)
		}
	}
	slices.Sort(out.OnlyA)
	slices.Sort(out.OnlyB)
	out.OnlyA, out.OnlyB = slices.Compact(out.OnlyA), slices.Compact(out.OnlyB)
	return out
}

// pair is the shots of both campaigns at one set of nominal conditions.
type pair struct {
	at   At
	a, b []Point
}

func (c *Comparison) compare(sa, sb *Series) {
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
			d := Difference{Key: sa.Key, Symbol: sa.Symbol, Unit: sa.Unit, Definition: sa.Definition, Where: where, A: side(cell.a, "A"), B: side(cell.b, "B")}
			d.conclude(shape)
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

func side(points []Point, campaign string) Side {
	var s Side
	var results []uncertainty.Result
	for _, p := range points {
		s.Captures = append(s.Captures, p.Name)
		for _, v := range Variables {
			s.At = s.At.With(v, s.At.Get(v)+p.Get(v)/float64(len(points)))
		}
		results = append(results, p.result(campaign))
	}
	s.Repeated = uncertainty.Repeat(results)
	return s
}

// unequalFrom is the difference of measured conditions that is flagged where it
// could not be taken out, relative (common practice, no source).
const unequalFrom = 0.01

func (d *Difference) conclude(shape *Fit) {
	b := d.B.Repeated
	for _, v := range []Variable{Bus, Current} {
		x, y := d.A.At.Get(v), d.B.At.Get(v)
		if off := y/x - 1; math.Abs(off) > unequalFrom && shape == nil {
			d.Flags = append(d.Flags, fmt.Sprintf("%s of B is %+.1f %% off and could not be taken out", symbols[v], 100*off))
		}
	}
	if shape != nil {
		if m := shape.Move(Point{At: d.B.At, Y: b.Mean, U: b.U}, d.A.At); m.Y-m.Y == 0 {
			d.Moved, b = m.Changed, scaled(b, m)
		}
	}
	of := func(run string, r uncertainty.Repeated) uncertainty.Result {
		return uncertainty.Result{Value: r.Mean, Run: run, Setup: r.Setup, Budget: r.Budget}
	}
	diff := uncertainty.Compare(of("B", b), of("A", d.A.Repeated))
	d.Diff, d.U, d.Shared, d.Verdict = diff.Value, diff.U, diff.Shared, diff.Verdict
}

// scaled is a side of which the value was moved: its effects scale with it, and
// what the shape of the move is not sure of comes on top.
func scaled(r uncertainty.Repeated, m Moved) uncertainty.Repeated {
	ratio := m.Y / r.Mean
	r.Budget = slices.Clone(r.Budget)
	for k := range r.Budget {
		r.Budget[k].Effect *= ratio
	}
	move := math.Sqrt(max(m.U*m.U-r.U*r.U*ratio*ratio, 0))
	r.Budget = append(r.Budget, result.Contribution{Source: "bringing to like conditions", U: move, Effect: move, Scope: result.OfReading})
	r.Mean, r.U = m.Y, m.U
	return r
}

// benches tells whether two campaigns share a bench.
func benches(a, b []*result.Shot) string {
	of := map[string]bool{}
	for _, s := range append(slices.Clone(a), b...) {
		if s.Err == nil {
			of[s.Bench] = true
		}
	}
	if len(of) == 1 && !of[""] {
		return "A and B were measured on one bench, as their set-ups state it: what its channels do to both alike is taken out of U"
	}
	return "A and B were not measured on one bench that their set-ups state (channels alike, with gain_u or offset_u): nothing is taken out of U as shared"
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

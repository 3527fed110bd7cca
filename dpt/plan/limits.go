package plan

import (
	"fmt"
	"math"
	"slices"

	"slewbook/waveform/unit"
)

// Limit is a bound that a figure of a point must keep.
type Limit struct {
	Key   string                 // of the figure
	Name  string                 // what bounds it, in words
	Least bool                   // a lower bound
	of    func(p *Point) float64 // the bound, NaN where it is not known
}

// Limits lists what a point is held against. A limit that is not known bounds
// nothing, and is told as not checked.
var Limits = []Limit{
	{"v_peak", "plan.v_share of device.v_max", false, func(p *Point) float64 { return p.bench.VShare * p.bench.VMax }},
	// The device blocks the charged bank before the first pulse.
	{"v_set", "plan.v_share of device.v_max", false, func(p *Point) float64 { return p.bench.VShare * p.bench.VMax }},
	{"v_set", "device.v_max", false, func(p *Point) float64 { return p.bench.VMax }},
	{"v_set", "bank.v_max", false, func(p *Point) float64 { return p.bench.CVMax }},
	{"v_set", "supply.v_max", false, func(p *Point) float64 { return p.bench.VSup }},
	{"i_off", "device.i_max", false, func(p *Point) float64 { return p.bench.IMax }},
	{"i_end", "device.i_max", false, func(p *Point) float64 { return p.bench.IMax }},
	{"i_peak", "device.i_max", false, func(p *Point) float64 { return p.bench.IMax }},
	{"i_end", "inductor.i_sat", false, func(p *Point) float64 { return p.bench.LSat }},
	{"v_sag", "plan.sag", false, func(p *Point) float64 { return p.bench.SagMax * p.V }},
	{"i_drift", "plan.drift", false, func(p *Point) float64 { return p.bench.DriftMax }},
	{"t_1", "driver's shortest pulse, plan.width_min", true, func(p *Point) float64 { return p.bench.WidthMin }},
	{"dtj", "device.tj_max", false, func(p *Point) float64 { return p.bench.TjMax - p.Tj }},
	{"t_charge", "time between shots, 1/plan.rate", false, func(p *Point) float64 { return 1 / p.bench.Rate }},
	{"dvdt", "device.dvdt_max", false, func(p *Point) float64 { return p.bench.Dvdt }},
	{"dvdt", "dvdt_crit of the parasitic transistor", false, func(p *Point) float64 { return p.Value("dvdt_crit") }},
	{"didt", "device.didt_max", false, func(p *Point) float64 { return p.bench.Didt }},
	{"fs_needed", "fs, what scope.sample_rate and scope.depth give", false, func(p *Point) float64 { return p.Value("fs") }},
	{"bits_v", "range of channel.vds", false, func(p *Point) float64 { return float64(p.bench.V.Bits) }},
	{"bits_i", "range of channel.id", false, func(p *Point) float64 { return float64(p.bench.I.Bits) }},
}

// Break is a limit that a point breaks, with the nearest current that does not.
type Break struct {
	Limit    Limit
	Value    float64 // of the figure [its unit]
	Bound    float64
	NearestI float64 // largest current below the point's that keeps all limits [A], NaN if none
	NearestV float64 // largest voltage below the point's that does, at the point's current [V]
}

// String says it for people.
func (b Break) String() string {
	word := "above"
	if b.Limit.Least {
		word = "below"
	}
	f, _ := FindFigure(b.Limit.Key)
	show := func(x float64) string {
		if f.Difference {
			return unit.FormatDifference(x, f.Unit, 4)
		}
		return unit.Format(x, f.Unit, 4)
	}
	s := fmt.Sprintf("%s = %s is %s %s = %s", b.Limit.Key, show(b.Value), word, b.Limit.Name, show(b.Bound))
	switch i, v := unit.Format(b.NearestI, "A", 4), unit.Format(b.NearestV, "V", 4); {
	case !math.IsNaN(b.NearestI) && !math.IsNaN(b.NearestV):
		s += fmt.Sprintf("; nearest that keeps all limits: %s here, or %s at this current", i, v)
	case !math.IsNaN(b.NearestI):
		s += fmt.Sprintf("; nearest that keeps all limits: %s at this voltage", i)
	case !math.IsNaN(b.NearestV):
		s += fmt.Sprintf("; nearest that keeps all limits: %s at this current", v)
	}
	return s
}

// broken lists the limits that a point breaks.
func (p *Point) broken() []Break {
	var all []Break
	for _, l := range Limits {
		v, bound := p.Value(l.Key), l.of(p)
		if v > bound && !l.Least || v < bound && l.Least {
			all = append(all, Break{Limit: l, Value: v, Bound: bound})
		}
	}
	return all
}

// Breaks lists the limits that a point breaks, with the nearest points that
// break none, looked for below in current and in voltage. Empty for a point that
// cannot be reached at all, whose Short says why.
func (p *Point) Breaks() []Break {
	all := p.broken()
	if len(all) == 0 {
		return nil
	}
	i := p.nearest(p.I, func(x float64) Point { return p.bench.Point(p.V, x, p.Tj) })
	v := p.nearest(p.V, func(x float64) Point { return p.bench.Point(x, p.I, p.Tj) })
	for k := range all {
		all[k].NearestI, all[k].NearestV = i, v
	}
	return all
}

// nearest returns the largest x below from whose point keeps all limits, in
// steps of a hundredth of it refined by halving; NaN if there is none down to a
// hundredth of from.
func (p *Point) nearest(from float64, at func(float64) Point) float64 {
	ok := func(x float64) bool { q := at(x); return q.Short == "" && len(q.broken()) == 0 }
	for hi := from; hi > from/100; hi *= 0.99 {
		if lo := 0.99 * hi; ok(lo) {
			return -bisect(-hi, -lo, func(x float64) bool { return ok(-x) })
		}
	}
	return math.NaN()
}

// Stops lists the upper bounds that are the same for every point and known, for whoever
// takes the shots.
func (b *Bench) Stops() []string {
	var out []string
	points := b.Points()
	for _, l := range Limits {
		bound := l.of(&points[0])
		if l.Least || math.IsNaN(bound) || slices.ContainsFunc(points, func(p Point) bool { return l.of(&p) != bound }) {
			continue
		}
		f, _ := FindFigure(l.Key)
		if f.Unit == "V" || f.Unit == "A" {
			out = append(out, fmt.Sprintf("%s %s (%s)", l.Key, unit.Format(bound, f.Unit, 4), l.Name))
		}
	}
	return out
}

// Unchecked lists the limits that nothing is known of, so that a plan never
// looks as if it had been held against them.
func (b *Bench) Unchecked() []string {
	var names []string
	points := b.Points()
	for _, l := range Limits {
		known := false
		for k := range points {
			p := &points[k]
			known = known || !math.IsNaN(l.of(p)) && !math.IsNaN(p.Value(l.Key))
		}
		if text := l.Key + " against " + l.Name; !known && !slices.Contains(names, text) {
			names = append(names, text)
		}
	}
	return names
}

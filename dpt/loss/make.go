package loss

import (
	"fmt"
	"math"
	"slices"

	"slewbook/dpt/curve"
	"slewbook/dpt/result"
	"slewbook/dpt/uncertainty"
	"slewbook/waveform/unit"
)

// Options say how far beyond its data the calculation may go.
type Options struct {
	Extrapolate []curve.Variable // conditions in which it may; what did is marked
}

// Validate checks the options.
func (o Options) Validate() error {
	for _, v := range o.Extrapolate {
		if !slices.Contains(curve.Variables, v) {
			return fmt.Errorf("extrapolate %q; expected one of %v", v, curve.Variables)
		}
	}
	return nil
}

// Make works out the losses at each switching frequency. The error is that of a
// converter, of grids or options that cannot be used at all; what fails at one frequency
// stands in its point.
func Make(c Converter, e Energies, opt Options) (*result.Losses, error) {
	if err := opt.Validate(); err != nil {
		return nil, err
	}
	if err := c.Validate(); err != nil {
		return nil, err
	}
	if err := e.check(); err != nil {
		return nil, err
	}
	out := &result.Losses{Kind: string(c.Kind), Parts: Parts, Data: e.data(), NotInU: c.notInU(), LeftOut: LeftOut}
	for _, f := range Figures {
		out.Figures = append(out.Figures, f.PlanFigure)
	}
	for _, f := range slices.Sorted(slices.Values(c.Fsw)) {
		out.Points = append(out.Points, c.point(e, opt, f))
	}
	out.Answers = c.answers(e, opt)
	return out, nil
}

// answers answers the inverse question, if a largest junction temperature is given.
func (c *Converter) answers(e Energies, opt Options) []string {
	most := c.Cooling.TjMax
	if math.IsNaN(most) || !math.IsNaN(c.Cooling.Tj) {
		return nil
	}
	f := c.LargestFsw(e, opt)
	text := unit.Format(f, "Hz", 4)
	switch {
	case math.IsNaN(f):
		text = "none down to a tenth of the smallest that was asked for"
	case math.IsInf(f, 1):
		text = "ten times the largest that was asked for, or more"
	}
	return []string{fmt.Sprintf("largest switching frequency that keeps the junctions at %s, within the data: %s", unit.Format(most, "K", 4), text)}
}

// LargestFsw returns the largest switching frequency at which the junctions stay at or
// below TjMax and the data suffice [Hz]: looked for downwards from ten times the largest
// of the converter in steps of a tenth, refined by halving. NaN if there is none down to
// a tenth of the smallest, +Inf if that is not the end.
func (c *Converter) LargestFsw(e Energies, opt Options) float64 {
	r := newReading(c, e, opt)
	ok := func(f float64) bool {
		s, err := newStress(c, f)
		if err != nil {
			return false
		}
		b, err := s.solve(r)
		return err == nil && max(b.T.T, b.T.D) <= c.Cooling.TjMax
	}
	lo, hi := slices.Min(c.Fsw)/10, slices.Max(c.Fsw)*10
	for f := hi; f > lo; f /= 1.1 {
		if !ok(f) {
			continue
		}
		if f == hi {
			return math.Inf(1)
		}
		good, bad := f, f*1.1
		for range 40 {
			if mid := (good + bad) / 2; ok(mid) {
				good = mid
			} else {
				bad = mid
			}
		}
		return good
	}
	return math.NaN()
}

// check tells whether the grids are those energies.
func (e Energies) check() error {
	if e.On == nil && e.Off == nil {
		return fmt.Errorf("neither a grid of e_on nor of e_off; expected one at least")
	}
	for k := range events {
		g := e.grid(k)
		if g == nil {
			continue
		}
		if err := g.Check(); err != nil {
			return err
		}
		if g.Quantity != keys[k] || g.Unit != "J" {
			return fmt.Errorf("a grid of %s [%s]; expected one of %s [J]", g.Quantity, g.Unit, keys[k])
		}
	}
	return nil
}

// data tells what the grids hold.
func (e Energies) data() []string {
	var out []string
	for k := range events {
		g := e.grid(k)
		if g == nil {
			continue
		}
		text := fmt.Sprintf("%s by %s, from %d shots", g.Quantity, g.Definition, g.Points)
		for _, v := range curve.Variables {
			lo, hi := float64(g.Range.Of(v)[0]), float64(g.Range.Of(v)[1])
			switch {
			case math.IsNaN(lo):
				text += fmt.Sprintf("; %s not stated, so nothing depends on it", v)
			case lo == hi:
				text += fmt.Sprintf("; %s %s", v, unit.Format(lo, v.Unit(), 4))
			default:
				text += fmt.Sprintf("; %s %s to %s", v, unit.Format(lo, v.Unit(), 4), unit.Format(hi, v.Unit(), 4))
			}
		}
		if x := float64(g.Misfit); x > 0 {
			text += fmt.Sprintf("; its form misses what was measured by %s, which is part of u", unit.Format(x, "1", 2))
		}
		out = append(out, text)
	}
	return out
}

// point works out one switching frequency.
func (c *Converter) point(e Energies, opt Options, f float64) result.LossPoint {
	p := result.LossPoint{Fsw: f, Past: math.NaN()}
	r := newReading(c, e, opt)
	s, err := newStress(c, f)
	var o outcome
	if err == nil {
		o, err = s.outcome(r)
	}
	if err != nil {
		p.Err = err
		for range Figures {
			p.Values, p.Budgets = append(p.Values, math.NaN()), append(p.Budgets, nil)
		}
		p.Values[0] = f
		return p
	}
	p.Values = o.values()
	p.Missing = o.missing(e)
	for text := range r.beyond {
		p.Beyond = append(p.Beyond, text)
	}
	slices.Sort(p.Beyond)
	p.Past = r.share()
	if most := c.Cooling.TjMax; max(o.T.T, o.T.D) > most {
		p.Breaks = append(p.Breaks, fmt.Sprintf("T_j = %s is above cooling.t_j_max = %s", unit.Format(max(o.T.T, o.T.D), "K", 4), unit.Format(most, "K", 4)))
	}
	p.Budgets, p.Notes = s.budgets(r, p.Values)
	return p
}

// outcome solves a point.
func (s stress) outcome(r *reading) (outcome, error) {
	b, err := s.solve(r)
	o := outcome{stress: s, balance: b}
	if err == nil && s.c.Kind == ThreePhase {
		total, past := r.total, r.past // those of the sum over the cycles
		o.closed = s.closed(r, b.T)
		r.total, r.past = total, past
		err = r.err
	}
	return o, err
}

func (o *outcome) values() []float64 {
	var out []float64
	for _, f := range Figures {
		out = append(out, f.of(o))
	}
	return out
}

// share is the part of the switching losses that was read beyond the grids.
func (r *reading) share() float64 {
	total, past := 0.0, 0.0
	for k := range events {
		total, past = total+r.total[k], past+r.past[k]
	}
	return past / total
}

// missing lists the parts that the sum lacks.
func (o *outcome) missing(e Energies) []string {
	var out []string
	lacks := func(lack bool, key, why string) {
		if lack {
			out = append(out, key+": "+why)
		}
	}
	for k, key := range []string{"p_on", "p_off", "p_rr"} {
		lacks(math.IsNaN(o.Parts[k]), key, "no grid of "+keys[k])
	}
	lacks(math.IsNaN(o.Parts[partCondT]), "p_cond_t", "transistor.on is not given")
	free := "diode.on"
	if o.c.Synchronous {
		free = "transistor.on"
	}
	lacks(math.IsNaN(o.Parts[partCondD]), "p_cond_d", free+" is not given")
	lacks(math.IsNaN(o.Parts[partDead]), "p_dead", "diode.on is not given")
	lacks(o.c.Synchronous && math.IsNaN(o.c.Dead), "p_dead", "converter.t_dead is not given")
	lacks(math.IsNaN(gate(o)), "p_gate", "transistor.q_gate and v_gate are not given")
	lacks(math.IsNaN(o.c.L), "ripple of the current", "converter.l is not given; edges at the mean current")
	return out
}

// inputs lists what the uncertainty is made of.
func (r *reading) inputs() []input {
	var out []input
	for k := range events {
		g := r.e.grid(k)
		if g == nil {
			continue
		}
		for _, s := range g.Shared {
			in := input{source: s.Source, kind: sharedByGrids, shared: s.SharedInput, u: math.NaN()}
			if !slices.ContainsFunc(out, func(o input) bool { return o.kind == in.kind && o.shared == in.shared }) {
				out = append(out, in)
			}
		}
		out = append(out, input{source: "fit of " + keys[k], kind: ownOfGrid, grid: k, u: math.NaN()})
	}
	c := r.c
	for _, in := range []input{{source: "transistor.on", kind: onTransistor, u: c.Transistor.OnU}, {source: "diode.on", kind: onDiode, u: c.Diode.OnU},
		{source: "transistor.r_th", kind: rthTransistor, u: c.Transistor.RthU}, {source: "diode.r_th", kind: rthDiode, u: c.Diode.RthU}, {source: "cooling.r_th", kind: rthSink, u: c.Cooling.RthSinkU}} {
		if in.u > 0 {
			out = append(out, in)
		}
	}
	return out
}

// budgets moves each input by its standard uncertainty, works the point out again with
// the temperatures that this makes, and returns the changes of every figure. Where that
// has no solution it moves the input the other way; where neither has one the effect is
// NaN, which is told.
func (s stress) budgets(r *reading, base []float64) (out [][]result.Contribution, notes []string) {
	out = make([][]result.Contribution, len(base))
	for _, in := range r.inputs() {
		moved := *r
		moved.moved = in
		o, err := s.outcome(&moved)
		values := make([]float64, len(base))
		if err != nil {
			notes = append(notes, fmt.Sprintf("u is not known: with %s moved by its own, %v", in.source, err))
			for k := range values {
				values[k] = math.NaN()
			}
		} else {
			values = o.values()
		}
		for k := range base {
			effect := values[k] - base[k]
			if math.IsNaN(base[k]) || math.Abs(effect) <= 1e-9*math.Abs(base[k]) { // the iteration settles no finer
				continue
			}
			out[k] = append(out[k], result.Contribution{Source: in.source, U: in.u, Unit: "1", Effect: effect, Scope: result.OfSetup})
		}
	}
	for k := range out {
		out[k] = uncertainty.Sorted(out[k])
	}
	return out, notes
}

// notInU lists the inputs of which no uncertainty is stated.
func (c *Converter) notInU() []string {
	var out []string
	add := func(used bool, u float64, key string) {
		if used && math.IsNaN(u) {
			out = append(out, key)
		}
	}
	add(c.Transistor.On != nil, c.Transistor.OnU, "transistor.u")
	add(c.Diode.On != nil, c.Diode.OnU, "diode.u")
	if math.IsNaN(c.Cooling.Tj) {
		add(true, c.Transistor.RthU, "transistor.r_th_u")
		add(!c.oneDie(), c.Diode.RthU, "diode.r_th_u")
		add(math.IsNaN(c.Cooling.TSink), c.Cooling.RthSinkU, "cooling.r_th_u")
	}
	return out
}

// LeftOut is what a double-pulse test does not tell of a converter.
var LeftOut = []string{
	"A converter's losses are not the sum of double-pulse energies: a study of continuous operation found 28 % between the two before inductor, diode and temperature were accounted for (text seen, secondary). Hold the result against a thermal measurement.",
	"Energies are those at the terminals. The charge of the output capacitance counts at turn-off and is burnt at turn-on: the sum of both is right for hard switching, the parts are not the channel's, and soft switching is not covered.",
	"E_on holds the recovery and the capacitive charge of the partner that it was measured with, E_rr the loss in the partner alone; both devices were at one temperature on the bench, and are not here.",
	"Hysteresis of the output capacitance, dynamic on-resistance, and the tail of a device that was not given time to recover do not show in two pulses.",
	"Loop inductance, gate driver and layout are those of the bench. Losses of inductor, capacitors, busbars, snubbers and control are not in it.",
}

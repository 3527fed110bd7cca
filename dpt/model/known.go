package model

import (
	"math"

	"slewbook/dpt/result"
)

// Answer is a known value with how far from it a right measurement of the
// sampled, noisy record may be, and why.
type Answer struct {
	Value float64 // SI base unit of the key
	Tol   float64 // same unit, always above zero
	Why   string  // what the tolerance is made of
}

// Answers are the known answers of one shot by the keys of result.Columns,
// those of named windows included ("e_on.i10-v10").
type Answers struct {
	Events []result.Event // T good to TolEvent
	// TolEvent is how far from Events a right event may be [s].
	TolEvent float64
	Values   map[string]Answer
}

// The answers are computed on a grid that is fine times denser than the sampling,
// but for what no edge needs.
const (
	fine     = 128
	fineEdge = 5e-12 // [s]
)

// knower holds what answers are read from.
type knower struct {
	*Waveforms
	in      Instrument
	step    float64
	answers *Answers
}

// base is what the levels of one edge refer to.
type base struct {
	v, i     float64 // bus voltage [V] and load current [A]
	low, top float64 // settled gate levels [V]
	on       bool
	from, to float64 // from this command to the next
}

// Known returns the answers for the turn-off of pulse 1 and the turn-on of
// pulse 2, as far as the shot has them. Values are those of the continuous
// waveforms; the instrument only shapes the tolerances, which hold for one
// without delay, gain error and bandwidth limit.
func Known(w *Waveforms, in Instrument) Answers {
	a := Answers{Values: map[string]Answer{}}
	k := knower{Waveforms: w, in: in, step: max(1/in.Fs/fine, fineEdge), answers: &a}
	for n, c := range w.Commands {
		to := w.Span.To
		if n+1 < len(w.Commands) {
			to = w.Commands[n+1].T
		}
		b := k.levels(c, to)
		edge := result.TurnOff
		if c.On {
			edge = result.TurnOn
		}
		t := k.cross(result.Vds, 0.5, b)
		a.Events = append(a.Events, result.Event{Edge: edge, Pulse: c.Pulse, T: t})
		a.TolEvent = max(a.TolEvent, k.tolCross(result.Vds, 0.5, b, t))
		switch {
		case !c.On && c.Pulse == 1:
			k.off(b, w.Commands[n-1].T)
		case c.On && c.Pulse == 2:
			k.on(b)
		}
	}
	k.whole()
	return a
}

// levels returns the bases of the edge that command c causes. The bus is the
// mean of v over the last quarter of the gap that touches the edge.
func (k knower) levels(c Command, to float64) base {
	b := base{on: c.On, from: c.T, to: to}
	before, after := c.T, to
	if c.On {
		after = c.T
		before = k.Span.From
		for _, e := range k.Commands {
			if e.T < c.T {
				before = e.T
			}
		}
	}
	start := after - (after-before)/4
	b.v = quadrature(k.V, start, after, 10*k.step) / (after - start)
	b.low, b.top = k.Vg(after), k.Vg(before)
	if c.On {
		b.top = k.Vg(to)
		t := crossing(func(t float64) float64 { return k.I(t) - k.Load(t)/2 }, 0, true, c.T, to, k.step)
		b.i = k.Load(t)
	} else {
		b.i = k.Load(crossing(k.V, b.v/2, true, c.T, to, k.step))
	}
	return b
}

// level returns the function and the value that a limit stands for.
func (k knower) level(r result.Role, p float64, b base) (f function, y float64, rising bool, ch Channel) {
	switch r {
	case result.Vds:
		return k.V, p * b.v, !b.on, k.in.V
	case result.Id:
		return k.I, p * b.i, b.on, k.in.I
	case result.VOther:
		return k.VOther, p * b.v, b.on, k.in.VOther
	}
	return k.Vg, b.low + p*(b.top-b.low), b.on, k.in.Vgs
}

// cross returns when a signal first passes the fraction p of its base.
func (k knower) cross(r result.Role, p float64, b base) float64 {
	f, y, rising, _ := k.level(r, p, b)
	return crossing(f, y, rising, b.from, b.to, k.step)
}

func (k knower) off(b base, pulse float64) {
	at := func(r result.Role, p float64) mark { return k.mark(r, p, b) }
	k.put("v_bus_off", b.v, 2e-3*b.v, "0.2 %: where in the gap the settled level is taken, what ringing and bits leave")
	k.put("i_off", b.i, 5e-3*b.i+k.in.I.Sigma(), "0.5 %: continuation of the ramp; one sigma of a sample for the fit and the zero")
	if k.Bipolar {
		k.duration("td_off", at(result.Vgs, 0.9), at(result.Id, 0.9))
		k.duration("t_off", at(result.Vgs, 0.9), at(result.Id, 0.1))
	} else {
		k.duration("td_off", at(result.Vgs, 0.9), at(result.Vds, 0.1))
		k.duration("t_off", at(result.Vgs, 0.9), at(result.Vds, 0.9))
	}
	k.slope("t_rise_v", "dvdt_off", 0.8*b.v, at(result.Vds, 0.1), at(result.Vds, 0.9))
	k.slope("t_fall_i", "didt_off", 0.8*b.i, at(result.Id, 0.9), at(result.Id, 0.1))
	k.energies("e_off", result.TurnOff, b)
	peak := k.peak("v_peak", k.V, b.from, b.to, k.in.V)
	k.put("v_overshoot", peak.Value/b.v-1, peak.Tol/b.v+2e-3*peak.Value/b.v, "tolerances of v_peak and v_bus_off")
	if k.in.partner() {
		k.peak("v_frm", func(t float64) float64 { return -k.VOther(t) }, b.from, b.to, k.in.VOther)
	}
	k.shares(b)

	rise := (k.Load(b.from) - k.Load(pulse+0.2*(b.from-pulse))) / (0.8 * (b.from - pulse))
	k.put("l_load", k.LLoad, 0.02*k.LLoad, "2 %: which voltage is divided by the slope (bus sag, freewheeling drop, resistances)")
	tenth := (b.from - pulse) / 10
	first := k.Load(pulse+2*tenth) - k.Load(pulse+tenth)
	last := k.Load(b.from) - k.Load(b.from-tenth)
	k.put("load_bend", (last-first)/(rise*tenth), 0.02, "2 %: how the ends of the ramp are fitted")
}

// shares adds where the energy up to a turn-off went: out of the bank, into the device,
// into the load.
func (k knower) shares(b base) {
	first := k.Commands[0].T
	before := quadrature(k.V, k.Span.From, first, 10*k.step) / (first - k.Span.From)
	k.put("v_sag", before-b.v, 8e-4*b.v, "0.08 % of the bus: two levels, each from where it is at rest")
	end := b.to - (b.to-b.from)/4
	took := quadrature(func(t float64) float64 { return k.V(t) * k.I(t) }, k.Span.From, end, 10*k.step)
	charge := quadrature(k.I, k.Span.From, end, 10*k.step)
	gave := quadrature(func(t float64) float64 { return k.Bus(t) * k.I(t) }, k.Span.From, end, 10*k.step)
	zero := 0.2 * k.in.I.Sigma() * b.v * (end - k.Span.From)
	k.put("e_dut", took, 0.01*took+0.5*k.in.V.lsb()*charge+zero, "1 %, half a step of v while it conducts, the current's zero to a fifth of a sigma")
	k.put("e_bus", gave, 5e-3*gave+3*charge+zero, "0.5 %: the bus is taken as falling in proportion to the charge; half a freewheeling drop of 6 V, which is in the level after; the current's zero")
	k.put("e_load", k.LLoad*b.i*b.i/2, 0.03*k.LLoad*b.i*b.i/2, "3 %: tolerances of l_load and twice that of i_off")
}

func (k knower) on(b base) {
	at := func(r result.Role, p float64) mark { return k.mark(r, p, b) }
	k.put("v_bus_on", b.v, 2e-3*b.v, "0.2 %: where in the gap the settled level is taken, what ringing and bits leave")
	k.put("i_on", b.i, 5e-3*b.i+k.in.I.Sigma(), "0.5 %: continuation of the ramp; one sigma of a sample for the fit and the zero")
	if k.Bipolar {
		k.duration("td_on", at(result.Vgs, 0.1), at(result.Id, 0.1))
		k.duration("t_on", at(result.Vgs, 0.1), at(result.Id, 0.9))
	} else {
		k.duration("td_on", at(result.Vgs, 0.1), at(result.Vds, 0.9))
		k.duration("t_on", at(result.Vgs, 0.1), at(result.Vds, 0.1))
	}
	i90, v10 := at(result.Id, 0.9), at(result.Vds, 0.1)
	k.slope("t_rise_i", "didt_on", 0.8*b.i, at(result.Id, 0.1), i90)
	k.slope("t_fall_v", "dvdt_on", 0.8*b.v, at(result.Vds, 0.9), v10)
	k.energies("e_on", result.TurnOn, b)
	// The turn-on's own peak ends where both v is down and i is back at the load.
	back := crossing(k.I, b.i, false, i90.t, b.to, k.step)
	if math.IsNaN(back) { // with the load's ramp on top it need not come back
		back = v10.t
	}
	peak := k.peak("i_peak", k.I, i90.t, max(v10.t, back), k.in.I)
	k.put("i_overshoot", peak.Value/b.i-1, peak.Tol/b.i+5e-3*peak.Value/b.i, "tolerances of i_peak and i_on")
	if k.in.partner() {
		k.partner(b)
	}
}

// partner adds what the partner's channels show of a turn-on: its voltage, and its
// recovery from where its current passes zero to where it is back.
func (k knower) partner(b base) {
	k.peak("v_other_peak", k.VOther, b.from, b.to, k.in.VOther)
	d := k.mark(result.VOther, 0.9, b).t - k.mark(result.VOther, 0.1, b).t
	tol := k.mark(result.VOther, 0.9, b).tol + k.mark(result.VOther, 0.1, b).tol
	k.put("dvdt_other", 0.8*b.v/d, 0.8*b.v/d*(tol/d+5e-3), whySlope)
	reverse := func(t float64) float64 { return -k.IOther(t) }
	peak := k.peak("i_rrm", reverse, b.from, b.to, k.in.IOther)
	from := crossing(reverse, 0, true, b.from, b.to, k.step)
	top, _ := highest(reverse, b.from, b.to, k.step)
	to := crossing(reverse, 0, false, top, b.to, k.step)
	q := quadrature(reverse, from, to, k.step)
	k.put("q_rr", q, 0.01*q+0.2*k.in.IOther.Sigma()*(to-from)+peak.Tol/k.in.Fs, "1 %, the current's zero to a fifth of a sigma, the tolerance of the peak over a sample")
}

// whole adds the quantities of the whole record.
func (k knower) whole() {
	if on, off := k.answers.Values["e_on"], k.answers.Values["e_off"]; on.Tol > 0 && off.Tol > 0 {
		k.put("e_tot", on.Value+off.Value, on.Tol+off.Tol, "tolerances of e_on and e_off")
	}
	ch := k.in.Vgs
	top, low := k.Vg(k.Commands[1].T), k.Vg(k.Span.From)
	k.put("vgs_high", top, 0.1, "0.1 V: what the gate's time constant and the bits leave")
	k.put("vgs_low", low, 0.1, "0.1 V: what the gate's time constant and the bits leave")
	_, most := highest(k.Vg, k.Span.From, k.Span.To, 16*k.step)
	_, least := highest(func(t float64) float64 { return -k.Vg(t) }, k.Span.From, k.Span.To, 16*k.step)
	k.put("vgs_max", most, 0.05+6*ch.Sigma(), "0.05 V and six sigma: an extreme of noisy samples")
	k.put("vgs_min", -least, 0.05+6*ch.Sigma(), "0.05 V and six sigma: an extreme of noisy samples")
}

// energies adds every named window of the edge, the default under its stem.
func (k knower) energies(stem string, edge result.Edge, b base) {
	isFirst := true
	for _, w := range result.Windows {
		if w.Edge != edge {
			continue
		}
		from := k.mark(w.Start.Signal, w.Start.Percent/100, b)
		to := k.mark(w.End.Signal, w.End.Percent/100, b)
		a := k.energy(from, to)
		k.answers.Values[stem+"."+w.Name] = a
		if isFirst {
			k.answers.Values[stem] = a
			isFirst = false
		}
	}
}

func (k knower) energy(from, to mark) Answer {
	if !(to.t >= from.t) {
		return Answer{Value: math.NaN(), Tol: math.NaN(), Why: "the window ends before it begins"}
	}
	e := quadrature(func(t float64) float64 { return k.V(t) * k.I(t) }, from.t, to.t, k.step)
	return Answer{e, k.tolEnergy(e, from, to), whyEnergy}
}

func (k knower) put(key string, value, tol float64, why string) Answer {
	a := Answer{value, tol, why}
	k.answers.Values[key] = a
	return a
}

package model

import (
	"math"
	"testing"

	"slewbook/dpt/result"
	"slewbook/waveform"
	"slewbook/waveform/wavetest"
)

// ideal turns a shot of straight ramps into waveforms: sampled at its corners
// and between them, so that straight pieces are exact.
func ideal(d wavetest.DoublePulse) *Waveforms {
	c := d.Capture(10e-12, -0.2e-6)
	v, i, g := c.Trace("Vds"), c.Trace("Id"), c.Trace("Vgs")
	a := d.Answers(1, 2)
	off := a.Events[1].T
	inside := func(tr *waveform.Trace) function {
		return func(t float64) float64 { return tr.At(min(max(t, tr.T0), tr.Span().To)) }
	}
	load := func(t float64) float64 {
		switch {
		case t < off-d.OffTv:
			return inside(i)(t)
		case t < a.Events[2].T-d.OnTi-d.OnTv:
			return a.Values["i_off"]
		}
		return a.Values["i_on"]
	}
	first := off - d.DelayOff - d.OffTv/2 // the command to turn off
	return &Waveforms{
		V: inside(v), I: inside(i), Vg: inside(g), Load: load, LLoad: d.LLoad, Span: v.Span(), Bus: func(float64) float64 { return d.V },
		Commands: []Command{{true, 1, 0}, {false, 1, first}, {true, 2, first + d.Gap}, {false, 2, first + d.Gap + d.Width}},
	}
}

// On ideal ramps the quadrature and the bisection must find the closed forms
// of wavetest, which share nothing with them. The grid of 10 ps rounds corners
// to some 10^-4 of a ramp of 20 ns; an energy is good to a fifth of that.
func TestKnownOnIdealRamps(t *testing.T) {
	d := wavetest.Example()
	d.LLoop, d.Irrm, d.Tb = 0, 8, 12e-9
	got := Known(ideal(d), DemoInstrument())
	want := d.Answers(1, 2)
	for _, key := range []string{
		"v_bus_off", "v_bus_on", "i_off", "i_on", "td_off", "td_on", "t_off", "t_on", "t_rise_v", "t_fall_i", "t_rise_i", "t_fall_v",
		"dvdt_off", "didt_off", "dvdt_on", "didt_on", "v_peak", "i_peak", "l_load",
		"vgs_high", "vgs_low", "vgs_max", "vgs_min",
		"e_off.v10-i2", "e_off.v10-i10", "e_off.v5-i5", "e_off.g90-i2",
		"e_on.i10-v2", "e_on.i10-v10", "e_on.i10-v5", "e_on.i5-v5", "e_on.g10-v2",
	} {
		a, has := got.Values[key]
		if !has {
			t.Errorf("%s is missing", key)
		}
		near(t, key, a.Value, want.Values[key], 2e-4*math.Abs(want.Values[key]))
	}
	// The corner of the peak is cut by 5 ps at 1 A/ns.
	near(t, "i_overshoot", got.Values["i_overshoot"].Value, want.Values["i_overshoot"], 5e-4)
	near(t, "load_bend", got.Values["load_bend"].Value, 0, 1e-3)
	for k, e := range got.Events {
		near(t, "event", e.T, want.Events[k].T, 1e-12)
		if (e.Edge == result.TurnOn) != want.Events[k].On || e.Pulse != want.Events[k].Pulse {
			t.Errorf("event %d: %v, want %v", k, e, want.Events[k])
		}
	}
}

// Every key of the list that the model can know is there, with a tolerance
// above zero and its reason.
func TestEveryKey(t *testing.T) {
	in := DemoInstrument()
	for _, s := range []Shot{Demo(300, 25), Demo(800, 100)} {
		a := Known(s.Waveforms(), in)
		for key, x := range a.Values {
			if _, known := result.FindColumn(key); !known {
				t.Errorf("%s is no key of the list of columns", key)
			}
			if !(x.Tol > 0) || math.IsInf(x.Tol, 0) || math.IsNaN(x.Value) || x.Why == "" {
				t.Errorf("%g V, %g A: %s = %g ± %g (%s)", s.Vbus, s.I, key, x.Value, x.Tol, x.Why)
			}
		}
		if len(a.Events) != 4 || !(a.TolEvent > 0 && a.TolEvent < 1e-9) {
			t.Errorf("events %v within %g s", a.Events, a.TolEvent)
		}
	}
}

// A plain reading of noisy captures (first crossing by linear interpolation,
// trapezoid, zero from before the shot) lies within the tolerances for every
// seed; with 1 % put into the energy it does not.
func TestTolerances(t *testing.T) {
	in := DemoInstrument()
	for _, s := range []Shot{Demo(300, 50), Demo(600, 100)} {
		w := s.Waveforms()
		a := Known(w, in).Values
		for seed := range uint64(20) {
			c := Capture(w, in, seed)
			v, i := c.Trace("Vds"), c.Trace("Id")
			quiet := i.Samples(waveform.Interval{From: -1e-6, To: -0.1e-6})
			zero := 0.0
			for _, y := range quiet {
				zero += y / float64(len(quiet))
			}
			for k := range i.Y {
				i.Y[k] -= zero
			}
			first := func(tr *waveform.Trace, level float64, rising bool, from float64) float64 {
				for k := int(tr.Pos(from)) + 1; k < tr.Len(); k++ {
					if (tr.Y[k] >= level) == rising {
						return tr.Time(k-1) + tr.Dt*(level-tr.Y[k-1])/(tr.Y[k]-tr.Y[k-1])
					}
				}
				return math.NaN()
			}
			energy := func(from, to float64) float64 {
				sum := 0.0
				for x := from; x < to; x += tick {
					sum += v.At(x+tick/2) * i.At(x+tick/2) * min(tick, to-x)
				}
				return sum
			}
			on, bus := w.Commands[2].T, a["v_bus_on"].Value
			i10 := first(i, 0.1*a["i_on"].Value, true, on)
			e := energy(i10, first(v, 0.02*bus, false, on))
			near(t, "e_on", e, a["e_on"].Value, a["e_on"].Tol)
			if math.Abs(1.01*e-a["e_on"].Value) <= a["e_on"].Tol {
				t.Errorf("%s, seed %d: 1 %% too much stays within %g of %g", "e_on", seed, a["e_on"].Tol, e)
			}
			near(t, "t_rise_i", first(i, 0.9*a["i_on"].Value, true, on)-i10, a["t_rise_i"].Value, a["t_rise_i"].Tol)
			off := w.Commands[1].T
			v10 := first(v, 0.1*bus, true, off)
			near(t, "e_off", energy(v10, first(i, 0.02*a["i_off"].Value, false, off)), a["e_off"].Value, a["e_off"].Tol)
			near(t, "t_rise_v", first(v, 0.9*bus, true, off)-v10, a["t_rise_v"].Value, a["t_rise_v"].Tol)
		}
	}
}

// tick is the step of the energies in TestTolerances [s].
const tick = 0.1e-9

package wavetest

import (
	"math"
	"testing"

	"slewbook/waveform"
)

// Without loop inductance and with a large load inductance a shot is the
// plain inductive commutation, whose energies are ½VIt less the window's ends.
// The 1e-10 J are what a load of 10 H leaves.
func TestDoublePulseIsInductive(t *testing.T) {
	d := Example()
	d.LLoad = 10 // so large that the load current stands still
	a := d.Answers(1, 2).Values
	c := Inductive{V: 800, I: 20, Ti: 20e-9, Tv: 20e-9, L: 20e-9}
	near(t, "e_on", a["e_on.i10-v2"], c.EOnWindow(0.1, 0.02), 1e-10)
	near(t, "e_off", a["e_off.v10-i2"], c.EOffWindow(0.1, 0.02), 1e-10)
	near(t, "e_on i10-v10", a["e_on.i10-v10"], c.EOnWindow(0.1, 0.1), 1e-10)
	near(t, "e_off v5-i5", a["e_off.v5-i5"], c.EOffWindow(0.05, 0.05), 1e-10)
	near(t, "t_rise_i", a["t_rise_i"], 16e-9, 1e-15)
	near(t, "t_fall_v", a["t_fall_v"], 16e-9, 1e-15)
	near(t, "t_rise_v", a["t_rise_v"], 16e-9, 1e-15)
	near(t, "t_fall_i", a["t_fall_i"], 16e-9, 1e-15)
	near(t, "td_off", a["td_off"], (25+2-3)*1e-9, 1e-15)
	near(t, "td_on", a["td_on"], (15+20+2-3)*1e-9, 1e-15)
	near(t, "v_peak", a["v_peak"], 820, 1e-6)
	near(t, "i_on", a["i_on"], 20, 1e-6)
	near(t, "vgs", a["vgs_high"]-a["vgs_low"], 19, 1e-12)
}

// The answers against a dense sum over the samples, off any grid of theirs.
// Tolerance: jumps of v are resolved to one interval, 20 V·30 A·2 ps.
func TestDoublePulseAgainstSamples(t *testing.T) {
	d := Example()
	d.LLoad, d.Irrm, d.Tb, d.Pulses = 60e-6, 9, 12e-9, 3
	d.ChI.Lag = 1.5e-9
	const dt = 2e-12
	c := d.Capture(dt, -0.1e-6)
	v, i := c.Trace("Vds"), c.Trace("Id")
	a := d.Answers(2, 3)
	ev := a.Events
	if len(ev) != 6 {
		t.Fatalf("%d events, want 6", len(ev))
	}
	first := func(tr *waveform.Trace, level float64, rising bool, from float64) float64 {
		for k := int(tr.Pos(from)) + 1; k < tr.Len(); k++ {
			if (tr.Y[k] >= level) == rising && tr.Y[k] != level {
				return tr.Time(k)
			}
		}
		return math.NaN()
	}
	energy := func(from, to float64) float64 {
		sum := 0.0
		lo, hi := v.Indices(waveform.Interval{From: from, To: to})
		for k := lo; k < hi; k++ {
			sum += v.Y[k] * i.Y[k] * dt
		}
		return sum
	}
	ion, ioff := a.Values["i_on"], a.Values["i_off"]
	from := first(i, 0.1*ion, true, ev[4].T-0.1e-6)
	near(t, "e_on", a.Values["e_on.i10-v2"], energy(from, first(v, 16, false, from)), 0.2e-6)
	near(t, "t_rise_i", a.Values["t_rise_i"], first(i, 0.9*ion, true, from)-from, 2*dt)
	from = first(v, 80, true, ev[3].T-0.1e-6)
	near(t, "e_off", a.Values["e_off.v10-i2"], energy(from, first(i, 0.02*ioff, false, from)), 0.2e-6)
	near(t, "i_peak over load", a.Values["i_peak"]-ion, 9, 0.05)
	// i_off of pulse 1 is I, plus V/L·tv·3/8 to the half of v, less the lag.
	b := d.Answers(1, 2).Values
	near(t, "i_off", b["i_off"], 20+800/60e-6*(20e-9*3/8-1.5e-9), 1e-6)
}

// A deep dip passes 90 % while the current rises: t_fall_v counts from there.
func TestDipInWindow(t *testing.T) {
	d := Example()
	d.LLoop, d.LLoad = 100e-9, 1e-3
	a := d.Answers(1, 2).Values
	near(t, "t_fall_v", a["t_fall_v"], (20+18)*1e-9, 1e-12)
	near(t, "after i90", a["t_fall_v.after-i90"], 16e-9, 1e-15)
}

// A current that lags by more than the whole edge ends the turn-on window
// before it begins.
func TestInvertedWindow(t *testing.T) {
	d := Example()
	d.ChI.Lag = 50e-9
	if e := d.Answers(1, 2).Values["e_on.i10-v2"]; !math.IsNaN(e) {
		t.Errorf("inverted window: got %g, want NaN", e)
	}
}

func TestCaptures(t *testing.T) {
	for _, pulses := range []int{1, 2, 3, 5} {
		d := Example()
		d.Pulses, d.NoGate = pulses, true
		d.RingV = Ring{Amplitude: 60, F: 40e6, Zeta: 0.05}
		d.ChV = Channel{Noise: 1, Bits: 8, Range: waveform.Range{Min: -100, Max: 1100}}
		c := d.Capture(0.8e-9, -0.5e-6+OffGrid(0.8e-9, pulses))
		if err := c.Check(); err != nil || c.Trace("Vgs") != nil {
			t.Errorf("%d pulses: %v, gate %v", pulses, err, c.Trace("Vgs"))
		}
		if n := len(d.Answers(1, 2).Events); n != 2*pulses {
			t.Errorf("%d pulses: %d events", pulses, n)
		}
		if _, has := d.Answers(1, 2).Values["e_on.i10-v2"]; has != (pulses > 1) {
			t.Errorf("%d pulses: e_on there: %v", pulses, has)
		}
	}
}

package dpt_test

import (
	"math"
	"slices"
	"testing"

	"slewbook/dpt"
	"slewbook/dpt/condition"
	"slewbook/dpt/result"
	"slewbook/waveform"
	"slewbook/waveform/wavetest"
)

// sagging is an ideal shot from a bank of the capacitance c, which falls by Q/c and is
// not charged again, with the on-state of a resistance r.
func sagging(dt, c, r float64) *waveform.Capture {
	d := wavetest.Example()
	d.LLoop = 0
	d.ChV.Noise, d.Seed = 0.05, 5
	shot := d.Capture(dt, -lead)
	v, i := shot.Trace("Vds"), shot.Trace("Id")
	charge := 0.0
	for k := range v.Y {
		charge += i.Y[k] * dt
		v.Y[k] += r*i.Y[k] - charge/c*v.Y[k]/d.V
	}
	return shot
}

// The bus falls by Q/C: 20 A and 3.5 µs make 35 µC, with 1 µF 35 V; and the fall tells
// the capacitance, but for the freewheeling device's forward voltage.
func TestBusSag(t *testing.T) {
	const c = 1e-6
	record := sagging(0.5e-9, c, 0)
	opt := dpt.Defaults()
	opt.Given.CBus = c
	shot, err := dpt.Measure(record, opt)
	if err != nil {
		t.Fatal(err)
	}
	charge := waveform.Integral(record.Trace("Id"), waveform.Interval{From: -lead, To: shot.Events[1].T + 100e-9})
	for key, tt := range map[string]struct{ want, tol float64 }{
		"v_sag":      {charge / c, 0.02 * charge / c}, // the charge is taken at the level of the bus then
		"v_recovery": {0, 0.1},
		"e_bank":     {c * 800 * 800 / 2, 2e-3 * c * 800 * 800 / 2},
	} {
		if m := shot.Quantity(key); !(math.Abs(m.Value-tt.want) <= tt.tol) || !(m.U > 0) {
			t.Errorf("%s = %.5g ± %.2g, expected %.5g %v", key, m.Value, m.U, tt.want, m.Warnings)
		}
	}
	if m := shot.Quantity("c_bus"); !(math.Abs(m.Value-c) <= 0.02*c) || m.U/m.Value < 0.05 {
		t.Errorf("c_bus = %.5g ± %.2g, expected %.5g and the forward voltage in it %v", m.Value, m.U, c, m.Warnings)
	}
	// A hundred times the bank sags by 350 mV, which tells nothing of it.
	shot, err = dpt.Measure(sagging(0.5e-9, 100*c, 0), opt)
	if err != nil {
		t.Fatal(err)
	}
	if m := shot.Quantity("c_bus"); !math.IsNaN(m.Value) || !hasCode(m.Warnings, waveform.FewBits) {
		t.Errorf("c_bus = %.5g %v, expected none", m.Value, m.Warnings)
	}
}

// A bus that rises by 1 V/µs in the gap has risen by 2 V over 2 µs of it.
func TestBusRecovers(t *testing.T) {
	d := wavetest.Example()
	d.LLoop = 0
	c := d.Capture(0.5e-9, -lead)
	events := d.Answers(1, 2).Events
	v := c.Trace("Vds")
	for k := range v.Y {
		if at := v.Time(k); at > events[1].T {
			v.Y[k] *= 1 + (min(at, events[2].T)-events[1].T)*1e6/d.V
		}
	}
	shot, err := dpt.Measure(c, dpt.Defaults())
	if err != nil {
		t.Fatal(err)
	}
	want := (events[2].T - events[1].T) * 1e6
	if m := shot.Quantity("v_recovery"); math.Abs(m.Value-want) > 0.01*want || !(m.U > 0) || m.U > 0.05*want {
		t.Errorf("v_recovery = %.5g ± %.2g, expected %.5g", m.Value, m.U, want)
	}
}

// Without losses but those of the device, the bus gives what the device takes and the
// load holds: V·Q = ∫v·i dt + ½·L·i². With an inductance given that is 10 % too large the
// balance is off by as much of the load's energy, and its uncertainty says that it may be.
func TestEnergyBalance(t *testing.T) {
	d := wavetest.Example()
	d.LLoop = 0
	for _, given := range []float64{0, 1, 1.1} {
		opt := dpt.Defaults()
		opt.Given.LLoad = given * d.LLoad
		shot, err := dpt.Measure(d.Capture(0.25e-9, -lead), opt)
		if err != nil {
			t.Fatal(err)
		}
		i := shot.Quantity("i_off").Value
		held, off := d.LLoad*i*i/2, 0.0
		if given > 0 {
			held *= given
			off = -(given - 1) / given * held
		}
		bus, dut := shot.Quantity("e_bus"), shot.Quantity("e_dut")
		for key, tt := range map[string]struct{ want, tol float64 }{
			"e_load":  {held, 1e-3 * held},
			"e_rest":  {off, 2e-3 * held}, // the current is not yet 0 when v is at half
			"balance": {off / bus.Value, 2e-3},
		} {
			if m := shot.Quantity(key); !(math.Abs(m.Value-tt.want) <= tt.tol) || !(m.U > 0) {
				t.Errorf("L %g: %s = %.5g ± %.2g, expected %.5g %v", given, key, m.Value, m.U, tt.want, m.Warnings)
			}
		}
		if rest := shot.Quantity("e_rest"); given == 1.1 && math.Abs(rest.Value) > 3*rest.U {
			t.Errorf("L %g: e_rest = %.5g ± %.2g", given, rest.Value, rest.U)
		}
		if whole := bus.Value - dut.Value; math.Abs(whole-d.LLoad*i*i/2) > 2e-3*whole {
			t.Errorf("bus %.5g, device %.5g, ½Li² %.5g", bus.Value, dut.Value, d.LLoad*i*i/2)
		}
	}
}

// 50 mohm at some 30 A are 1.5 V: a zero known to 50 mV tells them, 0.3 % of a span of
// 800 V does not; a clamped channel beside does as well. A pulse that ends before the
// stated delay has no on-state to read.
func TestOnState(t *testing.T) {
	const r = 50e-3
	record := func() *waveform.Capture { return sagging(0.5e-9, 1, r) }
	measure := func(c *waveform.Capture, channels map[result.Role]dpt.Channel, delay float64) result.Shot {
		t.Helper()
		opt := dpt.Defaults()
		opt.Channels, opt.OnDelay = channels, delay
		shot, err := dpt.Measure(c, opt)
		if err != nil {
			t.Fatal(err)
		}
		return shot
	}
	known := func(source string) dpt.Channel {
		return dpt.Channel{Channel: condition.AsRead(), Source: source, Bandwidth: math.NaN(), GainU: 0.01, OffsetU: 0.05}
	}
	clamped := record()
	on := *clamped.Trace("Vds")
	on.Name, on.Y = "clamp", nil
	for _, y := range clamped.Trace("Vds").Y {
		on.Y = append(on.Y, min(y, 10))
	}
	clamped.Traces = append(clamped.Traces, &on)
	for name, tt := range map[string]struct {
		shot result.Shot
		code waveform.Code
	}{
		"zero known":      {measure(record(), map[result.Role]dpt.Channel{result.Vds: known("Vds")}, 0), ""},
		"zero not known":  {measure(record(), nil, 0), waveform.FewBits},
		"behind a clamp":  {measure(clamped, map[result.Role]dpt.Channel{result.VdsOn: known("clamp")}, 0.5e-6), ""},
		"pulse too short": {measure(record(), map[result.Role]dpt.Channel{result.Vds: known("Vds")}, 5e-6), waveform.NotInRecord},
	} {
		v, ohm := tt.shot.Quantity("v_ds_on"), tt.shot.Quantity("r_ds_on")
		if tt.code != "" {
			if !math.IsNaN(v.Value) || !math.IsNaN(ohm.Value) || !hasCode(v.Warnings, tt.code) || !hasCode(ohm.Warnings, tt.code) {
				t.Errorf("%s: v_ds_on = %.4g, r_ds_on = %.4g %v", name, v.Value, ohm.Value, v.Warnings)
			}
			continue
		}
		if math.Abs(ohm.Value-r) > 0.005*r || !(ohm.U > 0) || ohm.U > 0.1*r || !(v.Value > 1) || !(v.U > 0) {
			t.Errorf("%s: v_ds_on = %.4g, r_ds_on = %.4g ± %.2g, expected %g %v", name, v.Value, ohm.Value, ohm.U, r, v.Warnings)
		}
	}
}

// A current ten times too large contradicts the inductance that is given: the shot says
// so, and what would stand on both is not measured.
func TestLoadContradicted(t *testing.T) {
	d := wavetest.Example()
	for _, tt := range []struct {
		scale   float64
		suspect bool
	}{{1, false}, {1.2, false}, {10, true}, {0.1, true}} {
		c := d.Capture(0.5e-9, -lead)
		for k := range c.Trace("Id").Y {
			c.Trace("Id").Y[k] *= tt.scale
		}
		opt := dpt.Defaults()
		opt.Given.LLoad = d.LLoad
		shot, err := dpt.Measure(c, opt)
		if err != nil {
			t.Fatal(err)
		}
		told := slices.ContainsFunc(shot.Warnings, func(w waveform.Warning) bool { return w.Code == waveform.ScaleSuspect })
		if told != tt.suspect {
			t.Errorf("current times %g: scale-suspect is told: %v", tt.scale, told)
		}
		for _, key := range []string{"e_load", "e_rest", "balance"} {
			if m := shot.Quantity(key); math.IsNaN(m.Value) != tt.suspect || tt.suspect && len(m.Warnings) == 0 {
				t.Errorf("current times %g: %s = %g %v", tt.scale, key, m.Value, m.Warnings)
			}
		}
	}
}

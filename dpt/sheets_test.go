package dpt_test

import (
	"math"
	"testing"

	"slewbook/dpt"
	"slewbook/waveform/wavetest"
)

// Recovery triangles of data sheets whose Q_rr is ½·t_rr·I_RRM (text
// of the sheets and of the makers' definition seen): a shot with the sheet's
// di/dt, t_rr and I_RRM has the printed charge, by every rule, since they agree on
// a triangle, and the softness and t_a = I_RRM/(di/dt) that follow. Where the sheet's
// di/dt is not known one was chosen.
func TestRecoverySheets(t *testing.T) {
	for name, tt := range map[string]struct{ i, didt, trr, irrm, printed float64 }{
		"3 A, 100 A/µs, 150 °C":     {3, 100e6, 260e-9, 7.2, 935e-9},
		"freewheeling diode, 25 °C": {40, 600e6, 70e-9, 18, 630e-9},
		"8 A, 300 A/µs":             {8, 300e6, 35e-9, 3.1, 55e-9},
		"40 A, 500 A/µs, 175 °C":    {40, 500e6, 484e-9, 18.6, 4.5e-6},
	} {
		ta := tt.irrm / tt.didt
		tb := tt.trr - ta
		d := wavetest.Example()
		d.LLoop, d.LLoad, d.Gap, d.Width = 0, 2e-3, 4e-6, 4e-6
		d.I, d.OnTi, d.Irrm, d.Tb, d.OnTv = tt.i, tt.i/tt.didt, tt.irrm, tb, tb
		opt := dpt.Defaults()
		opt.Align = dpt.AlignOff
		read := dpt.Readings(t, d.Capture(0.5e-9, -lead), opt)
		check := func(key string, want, tol float64) {
			t.Helper()
			if m := read[key]; !(math.Abs(m.Value-want) <= tol*want) || !(m.U > 0) {
				t.Errorf("%s: %s = %.5g ± %.2g, expected %.5g %v", name, key, m.Value, m.U, want, m.Warnings)
			}
		}
		// Sheets print two and three digits. The load's own ramp beside the triangle,
		// 0.4 A/µs, is known to a few per cent of it.
		check("q_rr", tt.printed, 0.02)
		check("q_rr.triangle", tt.trr*tt.irrm/2, 0.01)
		check("t_rr.line-90-25", tt.trr, 0.01)
		check("t_rr.line-75-50", tt.trr, 0.01)
		check("didt_f", tt.didt, 0.005)
		check("s_rr", tb/ta, 0.03)
		check("rrsf", tt.didt/(tt.irrm/tb), 0.01)
		// v_other rises along a straight line while i_rr falls along one.
		check("e_rr", d.V*tt.irrm*tb/6, 0.02)
	}
}

// A module's sheet (rev. 0.10, text seen): 600 V, 50 A, 35 nH,
// di/dt 4.29 kA/µs and dv/dt 45.7 kV/µs. L·di/dt is 150 V, 25 % of the bus, and
// the voltage takes 10.5 ns from 10 to 90 %, the printed t_f.
func TestModuleSheet(t *testing.T) {
	d := wavetest.Example()
	d.V, d.I, d.LLoop, d.LLoad = 600, 50, 35e-9, 1e-3
	d.OnTi, d.OffTi = 50/4.29e9, 50/4.29e9
	d.OnTv, d.OffTv = 600/45.7e9, 600/45.7e9
	shot := measureIdeal(t, d, 0.1e-9, -lead)
	for key, want := range map[string]struct{ value, tol float64 }{
		"v_overshoot": {0.25, 0.01},
		"t_rise_v":    {10.5e-9, 0.02},
		"t_rise_i":    {9.32e-9, 0.01},
		"didt_on":     {4.29e9, 0.01},
		"dvdt_off":    {45.7e9, 0.01},
	} {
		if m := shot.Quantity(key); !(math.Abs(m.Value-want.value) <= want.tol*want.value) {
			t.Errorf("%s = %.5g, expected %.5g %v", key, m.Value, want.value, m.Warnings)
		}
	}
	// The dip while the current rises.
	v, ev := shot.Traces["vds"], shot.Events[2]
	if dip := 600 - v.At(ev.T-d.OnTv/2-d.OnTi/2); math.Abs(dip-150) > 1.5 {
		t.Errorf("a dip of %.4g V, expected 150 V", dip)
	}
}

// The log decrement of successive swings and the overshoot of a step for a damping
// ratio of 0.1 are 0.6315 and 72.9 % (derived); a ring of that
// damping is found with it.
func TestRingOfTenth(t *testing.T) {
	r := wavetest.Ring{Amplitude: 150, F: 20e6, Zeta: 0.1}
	if d := r.LogDecrement(); math.Abs(d-0.6315) > 1e-4 {
		t.Errorf("δ = %.5f", d)
	}
	if o := wavetest.StepOvershoot(0.1); math.Abs(o-0.729) > 5e-4 {
		t.Errorf("overshoot %.4f", o)
	}
	d := wavetest.Example()
	d.LLoop, d.RingV = 0, r
	shot := measureIdeal(t, d, 0.25e-9, -lead)
	if z, f := shot.Quantity("zeta_off"), shot.Quantity("f_ring_off"); !(math.Abs(z.Value-0.1) < 0.0005) || !(math.Abs(f.Value-20e6) < 0.1e6) {
		t.Errorf("ζ = %.5f ± %.2g, f = %.5g Hz %v", z.Value, z.U, f.Value, z.Warnings)
	}
}

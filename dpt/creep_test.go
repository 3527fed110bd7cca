package dpt_test

import (
	"math"
	"testing"

	"slewbook/dpt"
	"slewbook/waveform"
)

// settling adds to a trace a part of each step that goes slowly, with a time constant
// [s], as a probe whose compensation is off.
func settling(tr *waveform.Trace, part, tau float64) {
	slow, a := tr.Y[0], 1-math.Exp(-tr.Dt/tau)
	for k, y := range tr.Y {
		slow += (y - slow) * a
		tr.Y[k] = (1-part)*y + part*slow
	}
}

// A probe of vds that settles slowly by 5 % of its steps shows behind the turn-on: it is
// told and counts; captures as they are do not carry that (simulated, see
// testdata/captures).
func TestSlowSettling(t *testing.T) {
	opt := dpt.Defaults()
	opt.Align = dpt.AlignOff
	for _, name := range []string{"clean-sic", "bench-sic", "bench-hv", "bench-gan", "clean-tail"} {
		c, _ := simulatedShot(t, name)
		want := mustMeasure(t, c, opt)
		if hasCode(want.Warnings, waveform.SlowSettling) {
			t.Errorf("%s: %v", name, want.Warnings)
		}
		if name != "clean-sic" && name != "bench-sic" {
			continue
		}
		for _, part := range []float64{0.05, -0.05} {
			c := shifted(c, "Vds", 0, 0)
			settling(c.Trace("Vds"), part, 0.3e-6)
			shot := mustMeasure(t, c, opt)
			if !hasCode(shot.Warnings, waveform.SlowSettling) {
				t.Errorf("%s, %+.0f %% of each step slow: %v", name, 100*part, shot.Warnings)
			}
			for _, key := range []string{"v_peak", "v_bus_off", "t_rise_v", "t_fall_v", "e_on"} {
				if m, truth := shot.Quantity(key), want.Quantity(key).Value; !(math.Abs(m.Value-truth) <= 3*m.U) {
					t.Errorf("%s, %+.0f %% of each step slow: %s is %.4g ± %.2g, without %.4g", name, 100*part, key, m.Value, m.U, truth)
				}
			}
		}
	}
}

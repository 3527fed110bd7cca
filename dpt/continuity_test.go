package dpt_test

import (
	"math"
	"testing"

	"slewbook/dpt"
	"slewbook/waveform"
)

// A sensor of the current that saturates behind the first turn-off, and one that takes a
// part of v for current, are told; the captures as they are carry neither (simulated, see
// testdata/captures). What the second moves is within three of its uncertainties.
func TestCurrentSensorSeen(t *testing.T) {
	opt := dpt.Defaults()
	opt.Align = dpt.AlignOff
	for _, name := range []string{"clean-sic", "bench-sic", "bench-slow"} {
		c, _ := simulatedShot(t, name)
		want := mustMeasure(t, c, opt)
		if hasCode(want.Warnings, waveform.LoadBend) || hasCode(want.Warnings, waveform.CommonMode) {
			t.Errorf("%s: %v", name, want.Warnings)
		}
		load := want.Quantity("i_off").Value
		flat := shifted(c, "Id", 0, 0)
		for k, y := range flat.Trace("Id").Y {
			flat.Trace("Id").Y[k] = 1.15 * load * math.Tanh(y/(1.15*load))
		}
		shot := mustMeasure(t, flat, opt)
		if !hasCode(shot.Warnings, waveform.LoadBend) || !hasCode(shot.Quantity("i_peak").Warnings, waveform.LoadBend) {
			t.Errorf("%s, saturating at 1.15 times the load current: %v", name, shot.Warnings)
		}
		mixed := shifted(c, "Id", 0, 0)
		bus := want.Quantity("v_bus_off").Value
		for k, v := range c.Trace("Vds").Y {
			mixed.Trace("Id").Y[k] += 0.025 * load * v / bus
		}
		shot = mustMeasure(t, mixed, opt)
		if !hasCode(shot.Warnings, waveform.CommonMode) {
			t.Errorf("%s, 2.5 %% of v in id: %v", name, shot.Warnings)
		}
		for _, key := range []string{"i_off", "i_on", "e_load", "i_overshoot"} {
			if m, truth := shot.Quantity(key), want.Quantity(key).Value; !(math.Abs(m.Value-truth) <= 3*m.U) {
				t.Errorf("%s, 2.5 %% of v in id: %s is %.4g ± %.2g, without %.4g", name, key, m.Value, m.U, truth)
			}
		}
	}
}

package dpt_test

import (
	"math"
	"testing"

	"slewbook/dpt"
	"slewbook/dpt/condition"
	"slewbook/dpt/result"
	"slewbook/waveform"
)

// A range that the samples exceed, and a loop that the capture does not have, are told; what
// agrees with the capture is not (simulated, see testdata/captures).
func TestSetUpContradicted(t *testing.T) {
	c, _ := simulatedShot(t, "bench-sic")
	plain := mustMeasure(t, c, dpt.Defaults())
	loop := plain.Quantity("l_loop").Value
	if math.IsNaN(loop) || hasCode(plain.Warnings, waveform.LoopDisagrees) || hasCode(plain.Warnings, waveform.ScaleSuspect) {
		t.Fatalf("l_loop %g, %v", loop, plain.Warnings)
	}
	for _, tt := range []struct {
		span, loop float64
		code       waveform.Code
	}{
		{3000, 1.1 * loop, ""},
		{200, 1.1 * loop, waveform.ScaleSuspect},
		{3000, 10 * loop, waveform.LoopDisagrees},
	} {
		opt := dpt.Defaults()
		opt.Channels = map[result.Role]dpt.Channel{result.Vds: {Channel: condition.AsRead(), Bandwidth: math.NaN(), Range: tt.span}}
		opt.Conditions = []result.Condition{{Key: "l_loop", Unit: "H", Value: tt.loop}}
		shot := mustMeasure(t, c, opt)
		for _, code := range []waveform.Code{waveform.ScaleSuspect, waveform.LoopDisagrees} {
			if hasCode(shot.Warnings, code) != (code == tt.code) {
				t.Errorf("range %g V, loop %g H: %v", tt.span, tt.loop, shot.Warnings)
			}
		}
	}
}

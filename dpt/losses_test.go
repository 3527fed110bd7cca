package dpt_test

import (
	"math"
	"testing"

	"slewbook/dpt"
	"slewbook/dpt/model"
)

// Losses of the ringing, parallel to the loop's inductance or in series with it as
// (ωL)²/RDamp, are alike at its frequency (transformation of a series into a parallel
// circuit, textbook matter). So the delay must come out alike to a quarter of what it
// is known to, and the truth, which is none, lie within the half to either side that
// where the losses are leaves open.
func TestDelayDoesNotTurnOnTheKindOfLosses(t *testing.T) {
	measure := func(series bool) (delay, u float64) {
		s := model.Demo(600, 60)
		s.RDamp, s.RLoop = 60, 4e-3
		if series {
			const omega = 2 * math.Pi * 93.4e6 // of this shot's ringing
			s.RDamp, s.RLoop = 1e6, math.Pow(omega*s.LLoop, 2)/60
		}
		in := model.DemoInstrument()
		in.V.Noise, in.V.Bits, in.I.Noise, in.I.Bits = 0.1, 0, 0.02, 0
		shot, err := dpt.Measure(model.Capture(s.Waveforms(), in, 1), dpt.Defaults())
		if err != nil {
			t.Fatal(err)
		}
		q := shot.Quantity("delay_id")
		return q.Value, q.U
	}
	a, ua := measure(false)
	b, ub := measure(true)
	if !(math.Abs(a-b) < min(ua, ub)/4) {
		t.Errorf("losses in parallel give %.4g ± %.2g s, in series %.4g ± %.2g s", a, ua, b, ub)
	}
	for _, d := range [][2]float64{{a, ua}, {b, ub}} {
		if !(math.Abs(d[0]) < 2*d[1]) {
			t.Errorf("delay %.4g ± %.2g s, truth none", d[0], d[1])
		}
	}
}

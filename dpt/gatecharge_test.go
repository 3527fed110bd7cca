package dpt_test

import (
	"math"
	"testing"

	"slewbook/dpt"
	"slewbook/waveform"
	"slewbook/waveform/wavetest"
)

// A SiC MOSFET's sheet (text seen) has 211 nC from -4 to 15 V: a driver spends
// 19 V · 211 nC = 4.0 µJ in a cycle. Here it flows as a half sine while vgs rises along
// a straight line, so ∫vgs·ig dt = 211 nC · 5.5 V, and the same back at the turn-off;
// 10 mA of zero are taken off.
func TestGateCharge(t *testing.T) {
	d := wavetest.Example()
	d.GateRamp = 105.5e-9
	d.DelayOn, d.DelayOff = 50e-9, 50e-9
	c := d.Capture(0.5e-9, -lead)
	ig := wavetest.Sample(func(float64) float64 { return 0.01 }, "Ig", "A", c.Traces[0].T0, 0.5e-9, len(c.Traces[0].Y))
	peak := 211e-9 * math.Pi / 2 / d.GateRamp
	for _, e := range d.Answers(1, 2).Events {
		start, height := e.T-d.DelayOff-d.OffTv/2, -peak
		if e.On {
			start, height = e.T-d.DelayOn-d.OnTi-d.OnTv/2, peak
			if e.Pulse == 1 {
				start = 0
			}
		}
		spike(ig, start, d.GateRamp, height)
	}
	c.Traces = append(c.Traces, ig)
	shot, err := dpt.Measure(c, dpt.Defaults())
	if err != nil {
		t.Fatal(err)
	}
	for key, want := range map[string]float64{"q_g_on": 211e-9, "q_g_off": 211e-9, "e_drive": 4.009e-6, "e_g_on": 211e-9 * 5.5, "e_g_off": -211e-9 * 5.5} {
		// The end at 2 % of the peak leaves 1e-4 of the charge out.
		if q := shot.Quantity(key); q == nil || !(math.Abs(q.Value-want) <= 0.003*math.Abs(want)) || !(q.U > 0) || !(q.Over.Duration() > 0) {
			t.Errorf("%s: expected %g, got %+v", key, want, q)
		}
	}
	// A sensor put in the wrong way round is told.
	for k := range ig.Y {
		ig.Y[k] *= -1
	}
	shot, err = dpt.Measure(c, dpt.Defaults())
	if err != nil {
		t.Fatal(err)
	}
	if q := shot.Quantity("q_g_on"); !(q.Value < 0) || len(q.Warnings) == 0 || q.Warnings[0].Code != waveform.Polarity {
		t.Errorf("reversed: %+v", q)
	}
}

// The idle gate rests at -4 V; it is thrown up to 1.5 V at the turn-on and down to -7 V
// at the turn-off. A larger spike between the edges is none of their doing.
func TestIdleGate(t *testing.T) {
	d := wavetest.Example()
	c := d.Capture(0.5e-9, -lead)
	ev := d.Answers(1, 2).Events
	tr := wavetest.Sample(func(float64) float64 { return -4 }, "Vgs_other", "V", c.Traces[0].T0, 0.5e-9, len(c.Traces[0].Y))
	spike(tr, ev[1].T-10e-9, 20e-9, -3)
	spike(tr, ev[2].T-10e-9, 20e-9, 5.5)
	spike(tr, ev[2].T-500e-9, 20e-9, 9)
	c.Traces = append(c.Traces, tr)
	for threshold, warned := range map[float64]bool{0: false, 1.2: true, 2.5: false} {
		opt := dpt.Defaults()
		opt.Gate.Threshold = threshold
		shot, err := dpt.Measure(c, opt)
		if err != nil {
			t.Fatal(err)
		}
		high, low := shot.Quantity("vgs_other_max"), shot.Quantity("vgs_other_min")
		if !(math.Abs(high.Value-1.5) < 0.02) || !(math.Abs(low.Value+7) < 0.02) || !(high.U > 0) || !(low.U > 0) {
			t.Errorf("%+v %+v, expected 1.5 and -7 V", high, low)
		}
		if hasCode(high.Warnings, waveform.ParasiticTurnOn) != warned {
			t.Errorf("threshold %g: %v", threshold, high.Warnings)
		}
		margin := shot.Quantity("vgs_other_margin")
		if (margin != nil) != (threshold != 0) || margin != nil && !(math.Abs(margin.Value-(threshold-1.5)) < 0.02) {
			t.Errorf("threshold %g: margin %+v", threshold, margin)
		}
	}
	// A gate that is switched while the device under test switches is not idle.
	k, _ := tr.Indices(waveform.Interval{From: ev[2].T, To: 1})
	for ; k < len(tr.Y); k++ {
		tr.Y[k] = 15
	}
	shot, err := dpt.Measure(c, dpt.Defaults())
	if err != nil {
		t.Fatal(err)
	}
	if q := shot.Quantity("vgs_other_max"); !math.IsNaN(q.Value) || len(q.Warnings) == 0 {
		t.Errorf("switched: %+v", q)
	}
}

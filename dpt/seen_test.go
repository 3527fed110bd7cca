package dpt_test

import (
	"math"
	"testing"

	"slewbook/dpt"
	"slewbook/waveform"
)

// shifted returns the capture with b added to the samples of one trace, and the trace later by t.
func shifted(c *waveform.Capture, name string, b, t float64) *waveform.Capture {
	out := *c
	out.Traces = nil
	for _, tr := range c.Traces {
		m := *tr
		if m.Name == name {
			m.T0 += t
			m.Y = make([]float64, len(tr.Y))
			for k, y := range tr.Y {
				m.Y[k] = y + b
			}
		}
		out.Traces = append(out.Traces, &m)
	}
	return &out
}

// A zero of vds that is seen to be off, since a device that conducts rests below it, is in
// the uncertainty of what is read from vds: what the same capture gives without it lies
// within two of it (simulated, see testdata/captures).
func TestZeroSeenOff(t *testing.T) {
	c, _ := simulatedShot(t, "clean-sic")
	want, err := dpt.Measure(c, dpt.Defaults())
	if err != nil {
		t.Fatal(err)
	}
	for _, off := range []float64{-20, -60} {
		shot, err := dpt.Measure(shifted(c, "Vds", off, 0), dpt.Defaults())
		if err != nil {
			t.Fatal(err)
		}
		for _, key := range []string{"v_bus_off", "v_peak", "v_max", "t_rise_v", "dvdt_off", "e_off", "e_on", "t_fall_v"} {
			m, truth := shot.Quantity(key), want.Quantity(key).Value
			if !(math.Abs(m.Value-truth) <= 2*m.U) {
				t.Errorf("with vds off by %g V, %s is %.4g ± %.2g, without %.4g", off, key, m.Value, m.U, truth)
			}
		}
	}
}

// Where no delay that is looked for fits, no uncertainty is told of what depends on it, and
// the reason is the delay.
func TestDelayBeyondSearch(t *testing.T) {
	c, _ := simulatedShot(t, "clean-sic")
	shot, err := dpt.Measure(shifted(c, "Id", 0, 150e-9), dpt.Defaults())
	if err != nil {
		t.Fatal(err)
	}
	for _, key := range []string{"e_off", "q_rr"} {
		if m := shot.Quantity(key); !math.IsNaN(m.U) || !hasCode(m.Warnings, waveform.DelayUnknown) {
			t.Errorf("id late by 150 ns: %s is %g ± %g with %v", key, m.Value, m.U, m.Warnings)
		}
	}
	if m := shot.Quantity("t_rise_v"); !(m.U > 0) {
		t.Errorf("t_rise_v, which no delay changes, has no uncertainty: %v", m.Warnings)
	}
}

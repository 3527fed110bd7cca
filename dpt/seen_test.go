package dpt_test

import (
	"math"
	"strings"
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

// A lag beyond what both edges last shows in the shot and is told: every quantity that it
// moves is within three of its uncertainties of what the same capture gives without it, or
// says why it has none (simulated, see testdata/captures).
func TestLagSeenAtEdges(t *testing.T) {
	for _, name := range []string{"clean-sic", "clean-tail"} {
		c, _ := simulatedShot(t, name)
		want := mustMeasure(t, c, dpt.Defaults())
		for _, lag := range []float64{150e-9, 250e-9} {
			shot := mustMeasure(t, shifted(c, "Id", 0, lag), dpt.Defaults())
			if !hasCode(shot.Warnings, waveform.DelaySuspect) {
				t.Errorf("%s, id late by %g s: %v", name, lag, shot.Warnings)
			}
			for _, key := range []string{"i_off", "t_fall_i", "didt_off", "e_off", "e_tot", "e_load", "t_rise_v", "v_peak"} {
				m, truth := shot.Quantity(key), want.Quantity(key).Value
				if !(math.Abs(m.Value-truth) <= 3*m.U) && len(m.Warnings) == 0 {
					t.Errorf("%s, id late by %g s: %s is %.4g ± %.2g, without %.4g, and nothing is told", name, lag, key, m.Value, m.U, truth)
				}
			}
		}
	}
}

// A zero of vds that is off to the positive shows where the device conducts, since its
// voltage goes to zero with its current: it is told, and is in the uncertainties; without
// it nothing is told (simulated, see testdata/captures).
func TestPositiveZeroSeenOff(t *testing.T) {
	for _, name := range []string{"clean-sic", "clean-tail", "bench-sic", "bench-tail"} {
		c, _ := simulatedShot(t, name)
		opt := dpt.Defaults()
		opt.Align = dpt.AlignOff
		if strings.HasSuffix(name, "tail") {
			opt.Device = dpt.IGBT
		}
		want := mustMeasure(t, c, opt)
		if hasCode(want.Warnings, waveform.NoBaseline) {
			t.Errorf("%s: %v", name, want.Warnings)
		}
		bus := want.Quantity("v_bus_off").Value
		shot := mustMeasure(t, shifted(c, "Vds", 0.03*bus, 0), opt)
		if !hasCode(shot.Warnings, waveform.NoBaseline) {
			t.Errorf("%s, vds off by 3 %% of the bus: %v", name, shot.Warnings)
		}
		for _, key := range []string{"v_bus_off", "v_peak", "t_rise_v", "dvdt_off", "t_fall_v", "e_off", "e_dut"} {
			if m, truth := shot.Quantity(key), want.Quantity(key).Value; !(math.Abs(m.Value-truth) <= 2*m.U) {
				t.Errorf("%s, vds off by 3 %% of the bus: %s is %.4g ± %.2g, without %.4g", name, key, m.Value, m.U, truth)
			}
		}
	}
}

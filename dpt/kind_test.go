package dpt_test

import (
	"math"
	"strings"
	"testing"

	"slewbook/dpt"
	"slewbook/dpt/result"
	"slewbook/waveform"
	"slewbook/waveform/wavetest"
)

// A short circuit: 400 A for 3 µs at 600 V, ramps of 100 ns. From 10 to 10 % of
// the peak the energy is V·I·(3 µs - 100 ns) + 2·V·I·½·(1 - 0.1²)·100 ns
// = 0.71976 J in closed form; the dip and overshoot of the loop are equal and
// opposite over equal currents.
func TestShortCircuitIsTold(t *testing.T) {
	var v, i wavetest.Piecewise
	v.Add(math.Inf(-1), 600)
	v.Add(1e-6, 560)
	v.Add(1.1e-6, 600)
	v.Add(4e-6, 640)
	v.Add(4.1e-6, 600)
	i.Add(math.Inf(-1), 0)
	i.Add(1e-6, 0, 4e9)
	i.Add(1.1e-6, 400)
	i.Add(4e-6, 400, -4e9)
	i.Add(4.1e-6, 0)
	c := &waveform.Capture{Name: "short circuit", Segments: 1, Traces: []*waveform.Trace{
		wavetest.Sample(v.At, "Vds", "V", 0, 1e-9, 6000), wavetest.Sample(i.At, "Id", "A", 0, 1e-9, 6000)}}
	shot, err := dpt.Measure(c, dpt.Defaults())
	if err == nil || !hasCode(shot.Warnings, waveform.NotDoublePulse) {
		t.Fatalf("error %v, warnings %v; expected not-double-pulse", err, shot.Warnings)
	}
	for _, want := range []string{"400.0 A", "3.08 µs", "0.72 J"} {
		if !strings.Contains(strings.ReplaceAll(err.Error(), "720 mJ", "0.72 J"), want) {
			t.Errorf("%q lacks %q", err, want)
		}
	}
}

// Many pulses are told as such; five, a multi-pulse test, are not.
func TestPeriodicSwitchingIsTold(t *testing.T) {
	for pulses, want := range map[int]bool{2: false, 5: false, 12: true} {
		d := wavetest.Example()
		d.Pulses = pulses
		shot, err := dpt.Measure(d.Capture(1e-9, -lead), dpt.Defaults())
		if err != nil {
			t.Fatal(err)
		}
		if got := hasCode(shot.Warnings, waveform.NotDoublePulse); got != want {
			t.Errorf("%d pulses: not-double-pulse %v, expected %v", pulses, got, want)
		}
	}
}

// A probe factor of ten shows against the plan; a bus that is a tenth off does not.
func TestWrongProbeFactorIsTold(t *testing.T) {
	for plan, want := range map[float64]bool{800: false, 720: false, 80: true, 8000: true} {
		opt := dpt.Defaults()
		opt.Conditions = []result.Condition{{Key: "v_bus", Value: plan, Unit: "V"}}
		shot, err := dpt.Measure(wavetest.Example().Capture(1e-9, -lead), opt)
		if err != nil {
			t.Fatal(err)
		}
		if got := hasCode(shot.Warnings, waveform.ScaleSuspect); got != want {
			t.Errorf("planned %g V of 800 V: scale-suspect %v, expected %v", plan, got, want)
		}
	}
}

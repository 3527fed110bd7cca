package dpt_test

import (
	"math"
	"strings"
	"testing"

	"slewbook/dpt"
	"slewbook/dpt/result"
	"slewbook/waveform"
)

// One wild sample: what depends on it has no number, the rest is as it was, and a
// warning tells place and value.
func TestOutliers(t *testing.T) {
	clean, err := dpt.Measure(bench().Capture(0.5e-9, -lead), dpt.Defaults())
	if err != nil {
		t.Fatal(err)
	}
	window := clean.Quantity("e_on").Over
	middle := (window.From + window.To) / 2
	for _, tt := range []struct {
		name, trace string
		at, value   float64
		lost, kept  string
	}{
		{"in e_on", "Vds", middle, 1e6, "e_on v_max", "v_bus_off i_off e_off td_off"},
		{"in e_on", "Vds", middle, 3000, "e_on v_max", "v_bus_off i_off e_off"},
		{"in e_on", "Id", middle, 400, "e_on i_max i_peak", "v_bus_on i_off e_off v_max"},
		{"in the first pulse", "Vds", clean.Events[1].T - 2.8e-6, 1500, "v_max", "e_on e_off i_off i_on v_peak"},
		{"in the first pulse", "Vgs", clean.Events[1].T - 2.8e-6, -40, "vgs_min vgs_max", "e_on e_off i_off i_on v_peak"},
	} {
		c := bench().Capture(0.5e-9, -lead)
		tr := c.Trace(tt.trace)
		k := int(math.Round(tr.Pos(tt.at)))
		tr.Y[k] = tt.value
		shot, err := dpt.Measure(c, dpt.Defaults())
		if err != nil {
			t.Errorf("%g in %s, %s: %v", tt.value, tt.trace, tt.name, err)
			continue
		}
		if tr.Y[k] != tt.value {
			t.Errorf("the capture's own sample is %g now", tr.Y[k])
		}
		var told *waveform.Warning
		for _, w := range shot.Warnings {
			if w.Code == waveform.Outlier {
				told = &w
			}
		}
		if told == nil || told.Channel != tt.trace || told.Over != (waveform.Interval{From: tr.Time(k), To: tr.Time(k)}) {
			t.Errorf("%g in %s, %s: warnings %v", tt.value, tt.trace, tt.name, shot.Warnings)
		}
		for _, key := range strings.Fields(tt.lost) {
			if m := shot.Quantity(key); !math.IsNaN(m.Value) || len(m.Warnings) == 0 {
				t.Errorf("%g in %s, %s: %s = %g %v, expected none and why", tt.value, tt.trace, tt.name, key, m.Value, m.Warnings)
			}
		}
		for _, key := range strings.Fields(tt.kept) {
			if m, was := shot.Quantity(key), clean.Quantity(key); m.Value != was.Value {
				t.Errorf("%g in %s, %s: %s = %g, expected %g as without", tt.value, tt.trace, tt.name, key, m.Value, was.Value)
			}
		}
	}
	if hasCode(clean.Warnings, waveform.Outlier) {
		t.Errorf("without: %v", clean.Warnings)
	}
}

// A running median that the set-up asks for takes the sample out.
func TestOutlierAndMedian(t *testing.T) {
	c := bench().Capture(0.5e-9, -lead)
	c.Trace("Vds").Y[3000] = 1e6
	opt := dpt.Defaults()
	opt.Channels = channels()
	ch := opt.Channels[result.Vds]
	ch.Filter = "median 5"
	opt.Channels[result.Vds] = ch
	shot, err := dpt.Measure(c, opt)
	if err != nil {
		t.Fatal(err)
	}
	if m := shot.Quantity("v_max"); hasCode(shot.Warnings, waveform.Outlier) || !(m.Value < 1200) {
		t.Errorf("v_max = %g, warnings %v", m.Value, shot.Warnings)
	}
}

// What no switch reaches is a wrong scale.
func TestFarOff(t *testing.T) {
	for trace, factor := range map[string]float64{"Vds": 1e3, "Id": 1e20, "Vgs": 1e300} {
		c := bench().Capture(0.5e-9, -lead)
		for k := range c.Trace(trace).Y {
			c.Trace(trace).Y[k] *= factor
		}
		want := "check the units in the file and channel." + strings.ToLower(trace) + ".scale"
		if _, err := dpt.Measure(c, dpt.Defaults()); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s times %g: %v", trace, factor, err)
		}
		if look := dpt.Look(c, dpt.Defaults()); !hasCode(look.Warnings, waveform.ScaleSuspect) {
			t.Errorf("%s times %g, a look: %v", trace, factor, look.Warnings)
		}
	}
}

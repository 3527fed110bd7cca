package dpt_test

import (
	"fmt"
	"math"
	"testing"

	"slewbook/dpt"
	"slewbook/waveform"
)

// A scope that sampled less often would have seen the same edge (simulated, see
// testdata/captures): what a capture of every second to eighth sample gives is within
// three of its own uncertainties of what all samples give, or says that the samples are
// too few to tell one.
func TestUndersampled(t *testing.T) {
	few := 0
	for _, name := range []string{"clean-sic", "clean-slow", "clean-tail"} {
		c, _ := simulatedShot(t, name)
		opt := dpt.Defaults()
		opt.Align = dpt.AlignOff
		all, err := dpt.Measure(c, opt)
		if err != nil {
			t.Fatal(err)
		}
		for _, every := range []int{2, 3, 5, 8} {
			for _, from := range []int{0, every / 2} {
				shot, err := dpt.Measure(everyNth(c, every, from), opt)
				if err != nil {
					t.Fatal(err)
				}
				for _, key := range []string{"v_peak", "i_peak", "i_rrm", "q_rr", "t_rr"} {
					m, truth := shot.Quantity(key), all.Quantity(key)
					told := hasCode(m.Warnings, waveform.FewSamples)
					what := fmt.Sprintf("%s: %s from every %dth sample", name, key, every)
					switch off := math.Abs(m.Value - truth.Value); {
					case math.IsNaN(truth.Value), math.IsNaN(m.Value) && len(m.Warnings) > 0:
					case math.IsNaN(m.U):
						if !told {
							t.Errorf("%s has no uncertainty, and no word about it", what)
						}
					case off > 3*math.Hypot(m.U, truth.U):
						t.Errorf("%s is %.4g ± %.2g, from all %.4g", what, m.Value, m.U, truth.Value)
					case told:
						few++
					}
				}
			}
		}
	}
	if few == 0 {
		t.Error("no capture of few samples says so")
	}
}

func everyNth(c *waveform.Capture, every, from int) *waveform.Capture {
	out := *c
	out.Traces = nil
	for _, tr := range c.Traces {
		thin := *tr
		thin.T0, thin.Dt, thin.Y = tr.Time(from), float64(every)*tr.Dt, nil
		for k := from; k < len(tr.Y); k += every {
			thin.Y = append(thin.Y, tr.Y[k])
		}
		out.Traces = append(out.Traces, &thin)
	}
	return &out
}

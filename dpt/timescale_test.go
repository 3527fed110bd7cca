package dpt_test

import (
	"strings"
	"testing"

	"slewbook/dpt"
	"slewbook/waveform"
)

// Time stamps in another unit than the header says are told with the factor; a capture as
// it is carries no such warning. Simulated captures, see testdata/captures.
func TestImplausibleTime(t *testing.T) {
	for _, name := range []string{"clean-sic", "bench-gan", "bench-tail", "bench-hv"} {
		for _, tt := range []struct {
			factor float64
			want   string
		}{{1, ""}, {1e3, "factor of 1000,"}, {1e6, "factor of 1e+06,"}, {1e-3, "factor of 0.001,"}} {
			c, _ := simulatedShot(t, name)
			for _, tr := range c.Traces {
				tr.T0, tr.Dt = tr.T0*tt.factor, tr.Dt*tt.factor
			}
			opt := dpt.Defaults()
			opt.Align = dpt.AlignOff
			shot, err := dpt.Measure(c, opt)
			if err != nil {
				t.Fatal(err)
			}
			text := ""
			for _, w := range shot.Warnings {
				if w.Code == waveform.ImplausibleTime {
					text = w.Text
				}
			}
			if (text == "") != (tt.want == "") || !strings.Contains(text, tt.want) {
				t.Errorf("%s, stamps times %g: %q, expected %q", name, tt.factor, text, tt.want)
			}
		}
	}
}

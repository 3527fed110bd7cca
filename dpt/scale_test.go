package dpt_test

import (
	"slices"
	"strings"
	"testing"

	"slewbook/dpt"
	"slewbook/waveform"
)

// A sensor whose factor of a hundred was not applied is told with the channel and the
// factor; a capture as it is carries no such warning (simulated, see testdata/captures).
func TestScaleSuspect(t *testing.T) {
	for _, name := range []string{"bench-sic", "bench-gan"} {
		for _, tt := range []struct {
			trace, want string
			factor      float64
		}{
			{"Id", "", 1},
			{"Id", "id is too small or vds too large, by a factor of 1", 0.01},
			{"Id", "id is too large or vds too small, by a factor of 1", 100},
			{"Vds", "channel.vds.scale", 0.01},
			{"Vgs", "channel.vgs.scale", 0.01},
		} {
			c, _ := simulatedShot(t, name)
			for k := range c.Trace(tt.trace).Y {
				c.Trace(tt.trace).Y[k] *= tt.factor
			}
			shot := mustMeasure(t, c, dpt.Defaults())
			told := slices.ContainsFunc(shot.Warnings, func(w waveform.Warning) bool {
				return w.Code == waveform.ScaleSuspect && strings.Contains(w.Text, tt.want)
			})
			if told != (tt.factor != 1) {
				t.Errorf("%s, %s times %g: %v", name, tt.trace, tt.factor, shot.Warnings)
			}
		}
	}
}

package dpt_test

import (
	"testing"

	"slewbook/dpt"
	"slewbook/waveform"
	"slewbook/waveform/wavetest"
)

// The dip of L·di/dt that leads into a turn-on is no pulse of its own, though v comes back
// before it falls; the same dip with a current that comes back as well is one, and so is
// one that no turn-on follows. (Common practice, no source.)
func TestDipIsNoPartialPulse(t *testing.T) {
	d := wavetest.Example()
	on := d.Answers(1, 2).Events[2].T
	for name, tt := range map[string]struct {
		before, current float64
		told            bool
	}{
		"the dip":              {before: 28e-9},
		"a bounce before it":   {before: 75e-9, current: 15, told: true},
		"a bounce in the gap":  {before: 800e-9, current: 15, told: true},
		"no current, long ago": {before: 800e-9, told: true},
	} {
		c := d.Capture(0.5e-9, -lead)
		spike(c.Trace("Vds"), on-tt.before, 12e-9, -320)
		spike(c.Trace("Id"), on-tt.before, 20e-9, tt.current)
		shot, err := dpt.Measure(c, dpt.Defaults())
		if err != nil {
			t.Fatal(err)
		}
		if hasCode(shot.Warnings, waveform.PartialPulse) != tt.told {
			t.Errorf("%s: %v", name, shot.Warnings)
		}
	}
}

package dpt_test

import (
	"math"
	"testing"

	"slewbook/dpt"
	"slewbook/waveform"
	"slewbook/waveform/wavetest"
)

// A probe that creeps on in the gap, as one whose compensation is off, is told where the
// bus is read: 60 V of 800 V short at first, with a time constant of 800 ns.
func TestCreepingBusIsTold(t *testing.T) {
	d := wavetest.Example()
	off := d.Answers(1, 2).Events[1].T
	for _, droop := range []float64{0, 60} {
		c := d.Capture(0.5e-9, -lead)
		tr := c.Trace("Vds")
		for k := range tr.Y {
			if t := tr.Time(k); t > off && tr.Y[k] > 400 {
				tr.Y[k] -= droop * math.Exp(-(t-off)/800e-9)
			}
		}
		shot, err := dpt.Measure(c, dpt.Defaults())
		if err != nil {
			t.Fatal(err)
		}
		if m := shot.Quantity("v_bus_off"); hasCode(m.Warnings, waveform.SettleShort) != (droop > 0) {
			t.Errorf("droop of %g V: v_bus_off = %g ± %g, %v", droop, m.Value, m.U, m.Warnings)
		}
	}
}

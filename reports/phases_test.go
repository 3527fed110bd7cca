package reports

import (
	"io"
	"math"
	"testing"

	"slewbook/dpt/result"
	"slewbook/waveform"
)

// The phases of staged edges stand below the tables of the edges.
func TestPhasesText(t *testing.T) {
	phase := func(label string, from, to, dvdt, didt, e, u float64) result.Phase {
		return result.Phase{Edge: result.TurnOff, Pulse: 1, Label: label, Over: waveform.Interval{From: from, To: to}, Quantities: []result.Measurement{
			{Key: "dvdt", Unit: "V/s", Value: dvdt, U: math.Abs(dvdt)/100 + 1e6}, {Key: "didt", Unit: "A/s", Value: didt, U: math.Abs(didt)/100 + 1e5}, {Key: "e", Unit: "J", Value: e, U: u}}}
	}
	shot := &result.Shot{Capture: "soft-003", Phases: []result.Phase{
		phase("step 1", 4.0044e-6, 4.0194e-6, 2e5, 1e7, 3e-9, 2e-9),
		phase("gate held at 8.00 V", 4.0194e-6, 4.824e-6, -3e4, 1e7, 1.2e-7, 4e-8),
		phase("step 2", 4.824e-6, 5.158e-6, 1.8e9, -1.2e8, 2.4e-3, math.NaN()),
	}}
	golden(t, "phases.txt", func(w io.Writer) error { return WriteText(w, []*result.Shot{shot}, TextOptions{}) })
}

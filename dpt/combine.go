package dpt

import (
	"fmt"
	"math"

	"slewbook/dpt/result"
	"slewbook/waveform"
)

// AlignmentOf returns what a measured shot says of delays and loop.
func AlignmentOf(s *result.Shot) result.Alignment {
	a := result.Alignment{Capture: s.Capture, Err: s.Err}
	for key, m := range map[string]*result.Measurement{"delay_id": &a.Current, "delay_vgs": &a.Gate, "l_loop": &a.Loop} {
		*m = result.Measurement{Key: key, Unit: "s", Value: math.NaN(), U: math.NaN(), Over: nowhere}
		if q := s.Quantity(key); q != nil {
			*m = *q
		}
	}
	a.Loop.Unit = "H"
	return a
}

// Combine combines the shots of a campaign that were taken with the same probes
// and the same loop into one delay and one inductance: means weighted by 1/u².
// Averaging does not reduce what the shots share, so the uncertainty is not
// below that of the best shot, and it grows with the disagreement of the shots.
// Where they disagree by far more than their uncertainties there is no common
// value.
func Combine(shots []result.Alignment) result.Alignment {
	all := result.Alignment{}
	var currents, loops []result.Measurement
	for _, s := range shots {
		if s.Err == nil {
			currents, loops = append(currents, s.Current), append(loops, s.Loop)
		}
	}
	all.Current, all.Shots = combine("delay_id", "s", currents)
	all.Loop, _ = combine("l_loop", "H", loops)
	all.Gate, _ = combine("delay_vgs", "s", nil)
	return all
}

// maxBirge is how far the scatter of the shots may exceed what their
// uncertainties let expect and still be taken for one value.
const maxBirge = 3

func combine(key, unit string, ms []result.Measurement) (result.Measurement, int) {
	out := result.Measurement{Key: key, Unit: unit, Value: math.NaN(), U: math.NaN(), Over: nowhere, Definition: "mean of shots, weighted by 1/u²"}
	if unit == "s" {
		out.Delay = &result.Delay{Suggested: math.NaN()}
	}
	sw, swx, best, n := 0.0, 0.0, math.Inf(1), 0
	for _, m := range ms {
		if m.U > 0 && !math.IsNaN(m.Value) {
			w := 1 / (m.U * m.U)
			sw, swx, best, n = sw+w, swx+w*m.Value, min(best, m.U), n+1
		}
	}
	none := func(text string) (result.Measurement, int) {
		out.Warnings = []waveform.Warning{{Code: waveform.DelayUnknown, Text: text}}
		return out, n
	}
	if n == 0 {
		return none("no shot gives a value that is sure")
	}
	mean, chi := swx/sw, 0.0
	for _, m := range ms {
		if m.U > 0 && !math.IsNaN(m.Value) {
			chi += (m.Value - mean) * (m.Value - mean) / (m.U * m.U)
		}
	}
	birge := 1.0
	if n > 1 {
		birge = max(1, math.Sqrt(chi/float64(n-1)))
	}
	if birge > maxBirge {
		return none(fmt.Sprintf("the shots disagree by %.0f times their uncertainties: they do not share one value", birge))
	}
	out.Value, out.U = mean, max(birge/math.Sqrt(sw), best)
	return out, n
}

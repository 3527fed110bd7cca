package campaign

import (
	"fmt"
	"slices"

	"slewbook/dpt/result"
	"slewbook/waveform"
	"slewbook/waveform/unit"
)

// Check warns on a shot that lies far from its plan. The numbers stand, at the
// conditions that were measured. A bus voltage that is already under suspicion of
// a wrong factor is not named twice.
func Check(s *result.Shot) {
	suspect := slices.ContainsFunc(s.Warnings, func(w waveform.Warning) bool { return w.Code == waveform.ScaleSuspect })
	for _, d := range Deviations(s) {
		if !d.Far || suspect && d.Key == "v_bus" {
			continue
		}
		s.Warnings = append(s.Warnings, waveform.Warning{Code: waveform.OffPlan,
			Text: fmt.Sprintf("%s was planned at %s and measured at %s (%s), %+.1f %% off", d.Key, unit.Format(d.Plan, d.Unit, 4), unit.Format(d.Value, d.Unit, 4), d.Measured, 100*d.Relative())})
	}
}

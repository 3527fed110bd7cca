package condition

import (
	"fmt"
	"math"
	"slices"

	"slewbook/waveform"
)

// DroopKind is the kind of the step that [Droop] leaves.
const DroopKind = "droop"

// Droop returns the current from that of a coil or transformer which droops as a
// first-order high-pass of time constant tau [s], 1/(2π·tau) its lower corner:
//
//	i(t) = y(t) - z + (1/tau)·∫(y - z) dt + z
//
// by the trapezoid rule from the first sample on (the inverse of sτ/(1 + sτ);
// derived). zero is z, the reading of y at rest, which stays in; over says where
// it was read. What is missing: the current before the record must have been
// zero for several tau, else a constant is off that decays in y. An error of z
// becomes a drift of z/tau, and white noise σ a random walk of σ·√(t·Dt)/tau
// after a time t. From a sample that is not finite on the integral is not known,
// and all is NaN.
func Droop(tr *waveform.Trace, tau, zero float64, over waveform.Interval) *waveform.Trace {
	out := *tr
	out.Y = make([]float64, len(tr.Y))
	integral, last := 0.0, math.NaN()
	for k, y := range tr.Y {
		if y-y != 0 {
			integral = math.NaN()
		}
		if k > 0 {
			integral += tr.Dt * ((y+last)/2 - zero)
		}
		out.Y[k] = y + integral/tau
		last = y
	}
	quiet := tr.Samples(over)
	drift := waveform.StdDev(quiet) / math.Sqrt(float64(len(quiet))) * tr.Span().Duration() / tau
	out.Steps = append(slices.Clone(tr.Steps), waveform.Step{Kind: DroopKind, Value: tau, Unit: "s",
		Text: fmt.Sprintf("droop with time constant %.4g µs taken out by integration, zero read from %.6g to %.6g µs: what the noise leaves in that zero drifts to %.2g %s (standard uncertainty) at the end of the record",
			tau*1e6, over.From*1e6, over.To*1e6, drift, tr.Unit)})
	return &out
}

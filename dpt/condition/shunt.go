package condition

import (
	"fmt"
	"math"
	"slices"

	"slewbook/waveform"
)

// ShuntKind is the kind of the step that [Shunt] leaves.
const ShuntKind = "shunt"

const (
	quietSamples = 20 // the fewest at the start that the first current is read from
	forgotten    = 10 // time constants after which a wrong start counts no more: e^-10 = 5e-5
)

// Shunt returns the current through a shunt of resistance r [ohm] and inductance
// l [H]. The trace is u/r, the voltage at the sense points read as if the shunt
// were a pure resistance; the current i itself obeys
//
//	l·di/dt + r·i = u
//
// (Piekielny and Waindok, Sensors 2021, 21, 1835, who validate it against a
// coil). With u straight between the samples the step from one to the next, h
// later, is solved exactly:
//
//	i[k+1] = a·i[k] + (φ - a)·u[k]/r + (1 - φ)·u[k+1]/r
//	a = exp(-h/τ),  φ = (1 - a)·τ/h,  τ = l/r
//
// which is stable for every step, and a low-pass, so that noise is never made
// larger. The first current is the mean of u/r over the first τ, and 20 samples
// at least: the record is taken to begin at rest. On a ramp s it is wrong by
// about s·τ then. Whatever is wrong with it has died away to 5e-5 after 10 τ.
// A sample that is not finite makes the current unknown, NaN, until 10 τ after
// it.
func Shunt(tr *waveform.Trace, r, l float64) *waveform.Trace {
	tau := l / r
	h := tr.Dt / tau
	a := math.Exp(-h)
	phi := -math.Expm1(-h) / h
	out := *tr
	out.Y = make([]float64, len(tr.Y))
	wait := 0 // samples until the current is known again
	i := start(tr.Y, tau/tr.Dt)
	for k, y := range tr.Y {
		switch {
		case y-y != 0:
			i, wait = math.NaN(), int(forgotten/h)+1
		case i != i:
			i = y
		case k > 0:
			i = a*i + (phi-a)*tr.Y[k-1] + (1-phi)*y
		}
		out.Y[k] = i
		if wait > 0 {
			out.Y[k] = math.NaN()
			wait--
		}
	}
	out.Steps = append(slices.Clone(tr.Steps), waveform.Step{Kind: ShuntKind, Value: tau, Unit: "s",
		Text: fmt.Sprintf("inductance of the shunt taken out, L·di/dt + R·i = u with L = %.4g nH and R = %.4g mΩ (L/R %.4g ns): as read, its corner is at %.4g MHz",
			l*1e9, r*1e3, tau*1e9, 1e-6/(2*math.Pi*tau))})
	return &out
}

// start returns the mean of the first n samples, 20 at least; NaN if one of
// them is not finite.
func start(y []float64, n float64) float64 {
	m := int(min(max(n, quietSamples), float64(len(y))))
	x := waveform.Mean(y[:m])
	if x-x != 0 {
		return math.NaN()
	}
	return x
}

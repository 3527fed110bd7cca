package wavetest

import "math"

// Ring is a damped oscillation that starts at time Start:
// Amplitude·exp(-zeta·w0·x)·sin(wd·x) with x = t - Start, wd = 2π·F and
// w0 = wd/√(1 - zeta²).
type Ring struct {
	Amplitude float64
	Start     float64 // [s]
	F         float64 // damped frequency, the one that is seen [Hz]
	Zeta      float64 // damping ratio, 0 ≤ Zeta < 1
}

// At returns the value at time t, 0 before the start.
func (r Ring) At(t float64) float64 {
	x := t - r.Start
	if x <= 0 || r.Amplitude == 0 {
		return 0
	}
	return r.Amplitude * math.Exp(-x*r.Decay()) * math.Sin(2*math.Pi*r.F*x)
}

// Decay returns the rate of the envelope, zeta·w0 [1/s].
func (r Ring) Decay() float64 {
	return r.Zeta * 2 * math.Pi * r.F / math.Sqrt(1-r.Zeta*r.Zeta)
}

// LogDecrement returns ln of the ratio of two successive maxima,
// 2π·zeta/√(1 - zeta²).
func (r Ring) LogDecrement() float64 {
	return 2 * math.Pi * r.Zeta / math.Sqrt(1-r.Zeta*r.Zeta)
}

// Peak returns time and value of the n-th extreme, n = 0 the first.
func (r Ring) Peak(n int) (t, y float64) {
	x := (math.Acos(r.Zeta) + float64(n)*math.Pi) / (2 * math.Pi * r.F)
	return r.Start + x, r.At(r.Start + x)
}

// StepOvershoot returns the overshoot of the step response of a second-order
// system of damping ratio zeta, relative to the step: exp(-π·zeta/√(1-zeta²)).
func StepOvershoot(zeta float64) float64 {
	return math.Exp(-math.Pi * zeta / math.Sqrt(1-zeta*zeta))
}

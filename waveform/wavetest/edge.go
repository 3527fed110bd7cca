package wavetest

import "math"

// LinearEdge goes from Low to High along a straight line. High below Low makes
// a falling edge. Fractions are of the way from Low to High.
type LinearEdge struct {
	Low, High float64
	Start     float64 // [s]
	Ramp      float64 // duration from 0 to 100 % [s]
}

// At returns the value at time t.
func (e LinearEdge) At(t float64) float64 {
	x := min(max((t-e.Start)/e.Ramp, 0), 1)
	return e.Low + x*(e.High-e.Low)
}

// Instant returns when the edge has gone the fraction p of its way [s].
func (e LinearEdge) Instant(p float64) float64 { return e.Start + p*e.Ramp }

// Duration returns the time from fraction p to fraction q: (q - p)·Ramp.
func (e LinearEdge) Duration(p, q float64) float64 { return (q - p) * e.Ramp }

// MaxSlope returns the steepest slope, (High - Low)/Ramp.
func (e LinearEdge) MaxSlope() float64 { return (e.High - e.Low) / e.Ramp }

// ExponentialEdge is the step response of a single pole:
// y = Low + (High - Low)·(1 - exp(-(t - Start)/Tau)).
type ExponentialEdge struct {
	Low, High float64
	Start     float64 // [s]
	Tau       float64 // [s]
}

// At returns the value at time t.
func (e ExponentialEdge) At(t float64) float64 {
	if t <= e.Start {
		return e.Low
	}
	return e.Low - (e.High-e.Low)*math.Expm1(-(t-e.Start)/e.Tau)
}

// Instant returns when the edge has gone the fraction p of its way [s].
func (e ExponentialEdge) Instant(p float64) float64 { return e.Start - e.Tau*math.Log1p(-p) }

// Duration returns the time from fraction p to fraction q,
// Tau·ln((1 - p)/(1 - q)); 10 to 90 % takes Tau·ln 9.
func (e ExponentialEdge) Duration(p, q float64) float64 { return e.Tau * math.Log((1-p)/(1-q)) }

// MaxSlope returns the steepest slope, (High - Low)/Tau at the start.
func (e ExponentialEdge) MaxSlope() float64 { return (e.High - e.Low) / e.Tau }

// GaussianEdge is the step response of a Gaussian low-pass:
// y = Low + (High - Low)·Φ((t - Mid)/Sigma).
type GaussianEdge struct {
	Low, High float64
	Mid       float64 // when it passes 50 % [s]
	Sigma     float64 // [s]
}

// At returns the value at time t.
func (e GaussianEdge) At(t float64) float64 {
	return e.Low + (e.High-e.Low)*0.5*math.Erfc(-(t-e.Mid)/(e.Sigma*math.Sqrt2))
}

// Instant returns when the edge has gone the fraction p of its way [s].
func (e GaussianEdge) Instant(p float64) float64 {
	return e.Mid + e.Sigma*math.Sqrt2*math.Erfinv(2*p-1)
}

// Duration returns the time from fraction p to fraction q; 10 to 90 % takes
// 2.5631 Sigma.
func (e GaussianEdge) Duration(p, q float64) float64 { return e.Instant(q) - e.Instant(p) }

// MaxSlope returns the steepest slope, (High - Low)/(Sigma·√(2π)) at Mid.
func (e GaussianEdge) MaxSlope() float64 {
	return (e.High - e.Low) / (e.Sigma * math.Sqrt(2*math.Pi))
}

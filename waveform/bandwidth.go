package waveform

import "math"

// GaussianRise is the product of the 10-90 % transition duration and the -3 dB
// bandwidth of a Gaussian low-pass, 2·1.28155·√(ln 2)/2π = 0.3396, where 1.28155
// is the 90 % quantile of the normal distribution. (A single pole has
// ln 9/2π = 0.3497.)
var GaussianRise = 2 * 1.2815515655446004 * math.Sqrt(math.Ln2) / (2 * math.Pi)

// SystemBandwidth returns the -3 dB bandwidth [Hz] of elements in series by
// 1/BW² = Σ 1/BWi², which is exact for Gaussian elements (application notes of
// device makers, text seen). Elements of unknown bandwidth (NaN) are left out;
// without any it is NaN.
func SystemBandwidth(bw ...float64) float64 {
	sum := 0.0
	for _, b := range bw {
		if !math.IsNaN(b) {
			sum += 1 / (b * b)
		}
	}
	if sum == 0 {
		return math.NaN()
	}
	return 1 / math.Sqrt(sum)
}

// SystemRise returns the 10-90 % transition duration [s] that a Gaussian system
// of this bandwidth gives a step.
func SystemRise(bw float64) float64 { return GaussianRise / bw }

// OwnRise returns the transition duration of the signal itself behind a
// measured one, by t² = t_signal² + t_system², which is exact for Gaussian
// elements and an estimate else (Hale et al., Technisches Messen 2017, warn
// that its systematic error is normally unknown). It is NaN where the system
// alone is as slow as what was measured.
func OwnRise(measured, system float64) float64 {
	if !(measured > system) {
		return math.NaN()
	}
	return math.Sqrt(measured*measured - system*system)
}

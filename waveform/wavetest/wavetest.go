// Package wavetest holds ideal signals whose answers are known in closed form:
// edges, commutations, ringing, recovery and whole double-pulse shots. Tests
// sample them on any grid and compare what the code under test reads off with
// the formula. It imports waveform only and measures nothing.
package wavetest

import (
	"math"
	"math/rand/v2"

	"slewbook/waveform"
)

// Sample puts a function of time on an even grid: n samples at t0 + k·dt.
func Sample(f func(t float64) float64, name, unit string, t0, dt float64, n int) *waveform.Trace {
	tr := &waveform.Trace{Name: name, Unit: unit, T0: t0, Dt: dt, Y: make([]float64, n)}
	for k := range tr.Y {
		tr.Y[k] = f(tr.Time(k))
	}
	return tr
}

// OffGrid returns the k-th start time of a series that spreads over one sample
// interval without ever repeating (multiples of the golden ratio, modulo dt),
// so that an edge falls between the samples in every possible way.
func OffGrid(dt float64, k int) float64 {
	_, frac := math.Modf(float64(k) * math.Phi)
	return frac * dt
}

// Jitter returns n sample times t0 + k·dt, each moved by a normal deviate of
// standard deviation rms [s] that is held within ±0.45 dt, so the times rise.
// The same seed gives the same times.
func Jitter(t0, dt float64, n int, rms float64, seed uint64) []float64 {
	r := rand.New(rand.NewPCG(seed, 0x6a17))
	t := make([]float64, n)
	for k := range t {
		d := min(max(rms*r.NormFloat64(), -0.45*dt), 0.45*dt)
		t[k] = t0 + float64(k)*dt + d
	}
	return t
}

// SampleAt evaluates f at the given times.
func SampleAt(f func(t float64) float64, t []float64) []float64 {
	y := make([]float64, len(t))
	for k := range t {
		y[k] = f(t[k])
	}
	return y
}

// AddNoise adds normal noise of standard deviation rms to the samples. The
// same seed gives the same noise.
func AddNoise(tr *waveform.Trace, rms float64, seed uint64) {
	r := rand.New(rand.NewPCG(seed, 0x4015e))
	for k := range tr.Y {
		tr.Y[k] += rms * r.NormFloat64()
	}
}

// Quantise rounds the samples to the 2^bits codes of a converter with the
// given input range; what lies outside sticks to the outermost code.
func Quantise(tr *waveform.Trace, bits int, r waveform.Range) {
	top := math.Exp2(float64(bits)) - 1
	lsb := (r.Max - r.Min) / (top + 1)
	for k, y := range tr.Y {
		code := min(max(math.Floor((y-r.Min)/lsb), 0), top)
		tr.Y[k] = r.Min + (code+0.5)*lsb
	}
	tr.Range = r
}

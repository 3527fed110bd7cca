package filters

import (
	"fmt"
	"math"
)

const (
	maxButterworth = 20   // order
	negligible     = 1e-5 // of a response that has died away
)

// Butterworth returns the Butterworth low-pass of that order and corner [Hz]
// run forward and then backward over samples of interval dt [s]. Each run has
//
//	|H|² = 1/(1 + x^(2·order)),  x = tan(πf·dt)/tan(π·corner·dt)
//
// which is -3 dB at the corner (bilinear transform, corner exact); both
// together have the square: no phase, twice the order, and -6 dB at the
// corner. Bandwidth is the -3 dB frequency of both together, where
// x = (√2-1)^(1/(2·order)); for a wanted bandwidth see [ButterworthCorner].
// Steps overshoot on both sides: with order 4 by 7 % each.
//
// The runs start in the odd extension of the record, Reach samples outside, as
// if the value there had been held for ever: what that does to a straight line
// is down to about 1e-5 of its change over the reach. The response has no end; Reach is where
// it has died away to 1e-5, and counts as its end: a sample that is not finite
// is bridged by a straight line, and out to the reach the result is NaN. The
// order is 1 to 20, the corner below the Nyquist frequency. References:
// S. Butterworth, Wireless Engineer 7 (1930) 536; F. Gustafsson, IEEE Trans.
// Signal Process. 44 (1996) 988, on running forward and backward (both from
// memory; checked against SciPy).
func Butterworth(order int, corner, dt float64) (Filter, error) {
	if order < 1 || order > maxButterworth {
		return Filter{}, fmt.Errorf("filters: Butterworth of order %d: expected 1 to %d", order, maxButterworth)
	}
	if err := checkFrequency("corner", corner, dt); err != nil {
		return Filter{}, err
	}
	sections := butterworthSections(order, corner, dt)
	dies := 1.0
	for _, s := range sections {
		dies = max(dies, math.Ceil(-math.Log(negligible)/s.decay()))
	}
	reach, err := checkReach("corner of "+hertz(corner), dies)
	if err != nil {
		return Filter{}, err
	}
	smooth := func(y []float64) []float64 {
		x := extend(y, reach)
		for range 2 { // each run leaves the record reversed
			for _, s := range sections {
				s.run(x)
			}
			reverse(x)
		}
		return append([]float64(nil), x[reach:reach+len(y)]...)
	}
	bandwidth := warp(corner, math.Pow(math.Sqrt2-1, 0.5/float64(order)), dt)
	name := fmt.Sprintf("butter %d %s", order, hertz(corner))
	return newFilter(name, bandwidth, dt, reach, oddEnds, smooth), nil
}

// ButterworthCorner returns the corner [Hz] with which [Butterworth] has that
// -3 dB bandwidth [Hz] forward and backward together. NaN unless order and
// bandwidth are possible.
func ButterworthCorner(order int, bandwidth, dt float64) float64 {
	if order < 1 || checkFrequency("bandwidth", bandwidth, dt) != nil {
		return math.NaN()
	}
	return warp(bandwidth, math.Pow(math.Sqrt2-1, -0.5/float64(order)), dt)
}

// warp returns the frequency whose tangent is x times that of f.
func warp(f, x, dt float64) float64 {
	return math.Atan(x*math.Tan(math.Pi*f*dt)) / (math.Pi * dt)
}

// section is a low-pass of second order, s² + 2·damping·g·s + g², or of first,
// s + g, in state form with the trapezoidal rule for each integrator. That is
// the bilinear transform; a constant passes bit by bit at any corner, where
// the difference equation of a low corner loses digits.
type section struct {
	g       float64 // tan(π·corner·dt)
	damping float64
	first   bool // of first order
}

func butterworthSections(order int, corner, dt float64) []section {
	g := math.Tan(math.Pi * corner * dt)
	var all []section
	if order%2 == 1 {
		all = append(all, section{g: g, first: true})
	}
	for k := 1; k <= order/2; k++ {
		angle := math.Pi * float64(2*k-1) / float64(2*order)
		all = append(all, section{g: g, damping: math.Sin(angle)})
	}
	return all
}

// decay returns -ln of the radius of the section's poles in the z plane: the
// rate at which its response dies away [1/sample].
func (s section) decay() float64 {
	if s.first {
		return 2 * math.Atanh(min(s.g, 1/s.g))
	}
	return math.Atanh(2 * s.damping * s.g / (1 + s.g*s.g))
}

// run filters x in place from its first sample on, which it takes to have been
// there for ever.
func (s section) run(x []float64) {
	if s.first {
		s.runFirst(x)
		return
	}
	a := 1 / (1 + s.g*(s.g+2*s.damping))
	ga, gga := s.g*a, s.g*s.g*a
	u, v := 0.0, x[0] // states: slope and value
	for k, in := range x {
		d := in - v
		du := a*u + ga*d
		out := v + ga*u + gga*d
		u = 2*du - u
		v = 2*out - v
		x[k] = out
	}
}

func (s section) runFirst(x []float64) {
	g := s.g / (1 + s.g)
	v := x[0]
	for k, in := range x {
		d := g * (in - v)
		out := v + d
		v = out + d
		x[k] = out
	}
}

func reverse(x []float64) {
	for i, j := 0, len(x)-1; i < j; i, j = i+1, j-1 {
		x[i], x[j] = x[j], x[i]
	}
}

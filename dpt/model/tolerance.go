package model

import (
	"math"

	"slewbook/dpt/result"
)

const (
	whyTime   = "at each end a tenth of a sample interval (interpolation), and four sigma of noise and bits and the tolerance of the level over the slope there"
	whySlope  = "tolerance of its duration, and 0.5 % of the level's base"
	whyEnergy = "root of the squares of: 0.3 % (bus, sampling), four sigma of the noise's integral, the current's zero to a fifth of a sigma, and power times the time tolerance at each end"
	whyPeak   = "four and a half sigma of noise and bits (largest of many samples), the curvature over half a sample interval, 0.1 %"
)

// mark is a crossing with its tolerance [s].
type mark struct {
	t, tol float64
}

func (k knower) mark(r result.Role, p float64, b base) mark {
	t := k.cross(r, p, b)
	return mark{t, k.tolCross(r, p, b, t)}
}

// tolCross returns the tolerance of a crossing at t, see whyTime [s].
func (k knower) tolCross(r result.Role, p float64, b base, t float64) float64 {
	f, y, _, ch := k.level(r, p, b)
	dt := 1 / k.in.Fs
	level := 2e-3 * math.Abs(y)
	switch r {
	case result.Id:
		level = 5e-3 * y
	case result.Vgs:
		level = 0.05
	}
	return dt/10 + (4*ch.Sigma()+level)/math.Abs(slopeAt(f, t, dt/2))
}

func (k knower) duration(key string, from, to mark) Answer {
	return k.put(key, to.t-from.t, from.tol+to.tol, whyTime)
}

// slope adds a duration and the average slope, as a magnitude, of a swing.
func (k knower) slope(keyT, keyS string, swing float64, from, to mark) {
	d := k.duration(keyT, from, to)
	s := swing / d.Value
	k.put(keyS, s, s*(d.Tol/d.Value+5e-3), whySlope)
}

// tolEnergy returns the tolerance of an energy, see whyEnergy [J].
func (k knower) tolEnergy(e float64, from, to mark) float64 {
	sv, si := k.in.V.Sigma(), k.in.I.Sigma()
	noise := quadrature(func(t float64) float64 {
		return math.Pow(k.I(t)*sv, 2) + math.Pow(k.V(t)*si, 2)
	}, from.t, to.t, 1/k.in.Fs/4)
	zero := 0.2 * si * quadrature(k.V, from.t, to.t, 1/k.in.Fs/4)
	power := func(m mark) float64 { return math.Abs(k.V(m.t) * k.I(m.t)) }
	sum := 16 * noise / k.in.Fs
	for _, part := range []float64{3e-3 * e, zero, power(from) * from.tol, power(to) * to.tol} {
		sum += part * part
	}
	return math.Sqrt(sum)
}

// peak adds the largest value of f in [from, to], see whyPeak.
func (k knower) peak(key string, f function, from, to float64, ch Channel) Answer {
	t, y := highest(f, from, to, k.step)
	dt := 1 / k.in.Fs
	bend := math.Abs(f(t+dt/2)+f(t-dt/2)-2*y) / 2
	return k.put(key, y, 4.5*ch.Sigma()+bend+1e-3*math.Abs(y), whyPeak)
}

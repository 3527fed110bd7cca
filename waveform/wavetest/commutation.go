package wavetest

import "math"

// Inductive is a clamped inductive commutation with linear ramps and a finite
// loop inductance L between the ideal source V and the sense points.
//
// Turn-on: i rises from 0 to I in Ti while v = V - L·I/Ti; then v falls from V
// to 0 in Tv. Turn-off is its mirror in time: v rises from 0 to V in Tv, then
// i falls from I to 0 in Ti while v = V + L·I/Ti. The load current is constant.
type Inductive struct {
	V, I   float64 // [V], [A]
	Ti, Tv float64 // full ramps, 0 to 100 % [s]
	L      float64 // loop inductance [H]
}

// Step returns the voltage across the loop while the current moves, L·I/Ti: the
// dip at turn-on, the overshoot at turn-off [V].
func (c Inductive) Step() float64 { return c.L * c.I / c.Ti }

// TurnOn returns v(t) and i(t) of a turn-on whose current starts at t = start.
func (c Inductive) TurnOn(start float64) (v, i Piecewise) {
	v.Add(math.Inf(-1), c.V)
	v.Add(start, c.V-c.Step())
	v.Add(start+c.Ti, c.V, -c.V/c.Tv)
	v.Add(start+c.Ti+c.Tv, 0)
	i.Add(math.Inf(-1), 0)
	i.Add(start, 0, c.I/c.Ti)
	i.Add(start+c.Ti, c.I)
	return v, i
}

// TurnOff returns v(t) and i(t) of a turn-off whose voltage starts at t = start.
func (c Inductive) TurnOff(start float64) (v, i Piecewise) {
	v.Add(math.Inf(-1), 0)
	v.Add(start, 0, c.V/c.Tv)
	v.Add(start+c.Tv, c.V+c.Step())
	v.Add(start+c.Tv+c.Ti, c.V)
	i.Add(math.Inf(-1), c.I)
	i.Add(start+c.Tv, c.I, -c.I/c.Ti)
	i.Add(start+c.Tv+c.Ti, 0)
	return v, i
}

// EOn returns the energy of the whole turn-on, ½VI(Ti + Tv) - ½LI² [J].
func (c Inductive) EOn() float64 { return c.EOnShifted(0) }

// EOff returns the energy of the whole turn-off, ½VI(Ti + Tv) + ½LI² [J].
func (c Inductive) EOff() float64 { return c.EOffShifted(0) }

// EOnShifted returns the energy of the whole turn-on when the current lags by
// tau, |tau| ≤ min(Ti, Tv), everything between the ends of both ramps [J]:
//
//	tau ≥ 0: VI(½(Ti + Tv) - tau + tau³/(6 Ti Tv)) - ½LI²(1 - tau/Ti)²
//	tau < 0: VI(½(Ti + Tv) - tau) - LI²/Ti·(½Ti - tau - tau²/(2 Ti))
func (c Inductive) EOnShifted(tau float64) float64 {
	p, half := c.V*c.I, (c.Ti+c.Tv)/2
	li2 := c.L * c.I * c.I
	if tau >= 0 {
		x := 1 - tau/c.Ti
		return p*(half-tau+tau*tau*tau/(6*c.Ti*c.Tv)) - li2*x*x/2
	}
	return p*(half-tau) - li2/c.Ti*(c.Ti/2-tau-tau*tau/(2*c.Ti))
}

// EOffShifted returns the energy of the whole turn-off when the current lags
// by tau, |tau| ≤ min(Ti, Tv) [J]. Turn-off is turn-on run backwards with the
// loop's sign turned, so it is EOnShifted(-tau) with -L.
func (c Inductive) EOffShifted(tau float64) float64 {
	c.L = -c.L
	return c.EOnShifted(-tau)
}

// EOnWindow returns the energy from where i passes the fraction a of I to
// where v passes the fraction b of V [J].
func (c Inductive) EOnWindow(a, b float64) float64 {
	return c.EOn() - c.I/2*((c.V-c.Step())*a*a*c.Ti+c.V*b*b*c.Tv)
}

// EOffWindow returns the energy from where v passes the fraction a of V to
// where i passes the fraction b of I [J].
func (c Inductive) EOffWindow(a, b float64) float64 {
	return c.EOff() - c.I/2*(c.V*a*a*c.Tv+(c.V+c.Step())*b*b*c.Ti)
}

// KeptInductive returns the share of the energy that lies in a window from
// fraction a of the first ramp to fraction b, short of its end, of the second
// one, without loop inductance: 1 - (a²·first + b²·second)/(first + second).
func KeptInductive(a, b, first, second float64) float64 {
	return 1 - (a*a*first+b*b*second)/(first+second)
}

// Resistive is a commutation in which v and i move together along straight
// lines in T, as with a resistor for a load: E = VIT/6.
type Resistive struct {
	V, I float64 // [V], [A]
	T    float64 // full ramp [s]
}

// TurnOn returns v(t) and i(t) of a turn-on that starts at t = start.
func (c Resistive) TurnOn(start float64) (v, i LinearEdge) {
	return LinearEdge{c.V, 0, start, c.T}, LinearEdge{0, c.I, start, c.T}
}

// Energy returns V·I·T/6 [J].
func (c Resistive) Energy() float64 { return c.V * c.I * c.T / 6 }

// KeptResistive returns the share of the energy of a resistive commutation
// that lies between the fractions x and y of its ramp: the integral of
// 6·u(1 - u) from x to y.
func KeptResistive(x, y float64) float64 {
	f := func(u float64) float64 { return u * u * (3 - 2*u) }
	return f(y) - f(x)
}

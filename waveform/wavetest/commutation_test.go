package wavetest

import (
	"math"
	"testing"
)

// near fails the test if got is not within tol of want.
func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s: got %.9g, want %.9g ± %.2g", what, got, want, tol)
	}
}

// Worked figures of a linear commutation of 800 V and 20 A in 20 + 20 ns:
// ½VIt (Erickson and Maksimovic, Fundamentals of Power Electronics, eq. 4.5)
// and ½LI² (eq. 4.41), both from memory. The shifted ones were derived by hand
// from -∫v·di and are given to 0.01 µJ.
func TestInductiveEnergies(t *testing.T) {
	c := Inductive{V: 800, I: 20, Ti: 20e-9, Tv: 20e-9}
	l := c
	l.L = 20e-9
	for _, x := range []struct {
		what      string
		got, want float64
	}{
		{"on", c.EOn(), 320e-6}, {"off", c.EOff(), 320e-6},
		{"on, 20 nH", l.EOn(), 316e-6}, {"off, 20 nH", l.EOff(), 324e-6},
		{"on, +1 ns", c.EOnShifted(1e-9), 304.0067e-6}, {"off, +1 ns", c.EOffShifted(1e-9), 336e-6},
		{"on, +2 ns", c.EOnShifted(2e-9), 288.053e-6}, {"off, +2 ns", c.EOffShifted(2e-9), 352e-6},
		{"on, 20 nH, +1 ns", l.EOnShifted(1e-9), 300.397e-6}, {"off, 20 nH, +1 ns", l.EOffShifted(1e-9), 340.39e-6},
	} {
		near(t, x.what, x.got, x.want, 1e-9)
	}
	near(t, "dip", l.Step(), 20, 1e-9)
}

// The closed forms against the exact integral of the piecewise signals, which
// shares no formula with them.
func TestInductiveAgainstIntegral(t *testing.T) {
	c := Inductive{V: 600, I: 35, Ti: 13e-9, Tv: 29e-9, L: 11e-9}
	v, i := c.TurnOn(7e-9)
	w, j := c.TurnOff(7e-9)
	for _, tau := range []float64{-9e-9, -1e-9, 0, 2.5e-9, 12e-9} {
		near(t, "on", v.Integral(i.Shift(tau), -1e-6, 7e-9+c.Ti+c.Tv+max(tau, 0)), c.EOnShifted(tau), 1e-12)
		near(t, "off", w.Integral(j.Shift(tau), 7e-9+min(tau, 0), 1e-6), c.EOffShifted(tau), 1e-12)
	}
	near(t, "on 10-2", v.Integral(i, i.Crossing(3.5, true, 0, 1), v.Crossing(12, false, 0, 1)), c.EOnWindow(0.1, 0.02), 1e-12)
	near(t, "off 10-2", w.Integral(j, w.Crossing(60, true, 0, 1), j.Crossing(0.7, false, 0, 1)), c.EOffWindow(0.1, 0.02), 1e-12)
}

// Shares kept by partial windows, derived: 1 - a²... on two ramps and
// 6·∫u(1 - u) on one.
func TestKept(t *testing.T) {
	near(t, "10-10", KeptInductive(0.1, 0.1, 1, 1), 0.99, 1e-9)
	near(t, "5-5", KeptInductive(0.05, 0.05, 1, 1), 0.9975, 1e-9)
	near(t, "10-2", KeptInductive(0.1, 0.02, 1, 1), 0.9948, 1e-9)
	near(t, "resistive 10-90", KeptResistive(0.1, 0.9), 0.944, 1e-9)
	near(t, "resistive 5-95", KeptResistive(0.05, 0.95), 0.9855, 1e-9)
	near(t, "resistive 2-98", KeptResistive(0.02, 0.98), 0.997632, 1e-9)
	near(t, "resistive energy", Resistive{V: 800, I: 20, T: 20e-9}.Energy(), 53.3333e-6, 1e-10)
}

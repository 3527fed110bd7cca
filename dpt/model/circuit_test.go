package model

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

// A solution with a hundredth of the error per step must give the same
// energies: to a tenth of the 0.3 % that the tolerances start from.
func TestStepControl(t *testing.T) {
	s := Demo(600, 50)
	energies := func(relative float64) map[string]Answer {
		return Known(s.waveforms(relative), DemoInstrument()).Values
	}
	a, b := energies(relative), energies(relative/100)
	for _, key := range []string{"e_on", "e_off", "t_rise_i", "t_fall_v", "t_rise_v", "t_fall_i", "v_peak", "i_peak"} {
		near(t, key, a[key].Value, b[key].Value, 3e-4*b[key].Value)
	}
}

// Energy must balance: what the bus capacitor gives is dissipated or stored.
// The dissipation is summed here element by element from Joule's law, not from
// the slopes that the solver uses. From quiet to quiet before and after the
// shot, so that the capacitances hold the same charge but for the bus's sag.
func TestEnergyBalance(t *testing.T) {
	s := Demo(600, 50)
	c := &circuit{Shot: s, commands: s.Commands()}
	end := c.commands[3].T + s.After
	every := []int{xBus, xLoop, xV, xD, xLoad, xG, xQ}
	sol := newSolution(c.solve(-s.Before, end, relative))
	loss := quadrature(func(t float64) float64 {
		x := sol.at(t, every...)
		v := c.loop(&x)
		forward := (s.Partner.Charge*softplus(-x[xD]-s.Partner.Vf, knee) - x[xQ]) / s.Partner.Transit
		return s.RLoop*x[xLoop]*c.drain(&x) + v*v/s.RDamp + x[xV]*s.Device.channel(x[xG], x[xV]) - x[xD]*forward
	}, -s.Before, end, 5e-12)
	x := sol.at(end, every...)
	given := s.CBus / 2 * (s.Vbus*s.Vbus - x[xBus]*x[xBus])
	load := s.LLoad / 2 * x[xLoad] * x[xLoad]
	// 0.3 %: energy through Cgd from the driver, and in the partner's forward bias.
	near(t, "loss + load", loss+load, given, 3e-3*given)
}

// While the current rises v = V + Vf - L·di/dt, at every instant; so the
// voltage missing at the terminals sums up to L times the current's change.
func TestDip(t *testing.T) {
	s := Demo(600, 50)
	w := s.Waveforms()
	a := Known(w, DemoInstrument()).Values
	from := crossing(w.I, 0.1*a["i_on"].Value, true, w.Commands[2].T, w.Span.To, 1e-11)
	to := from + a["t_rise_i"].Value
	missing := quadrature(func(t float64) float64 { return w.Bus(t) - w.V(t) }, from, to, 1e-11)
	// 4 %: the partner's drop above its knee and the current in RDamp.
	want := s.LLoop*(w.I(to)-w.I(from)) - s.Partner.Vf*(to-from)
	near(t, "∫(V - v)dt", missing, want, 0.04*want)
}

// After turn-off the loop rings with the output capacitance of the device:
// f = 1/(2π√(LC)) (any circuits handbook); 3 %: C is that at the settled
// voltage, and the first periods are left out.
func TestRingingFrequency(t *testing.T) {
	s := Demo(600, 50)
	w := s.Waveforms()
	bus := Known(w, DemoInstrument()).Values["v_bus_off"].Value
	start := w.Commands[1].T + 90e-9
	at := start
	for range 5 {
		at = crossing(w.V, bus, true, at+1e-12, w.Span.To, 1e-11)
		if start == w.Commands[1].T+90e-9 {
			start = at
		}
	}
	c := junction(s.Device.Cds, bus, s.Device.Vj) + s.Device.Cgd*math.Pow(1+bus/s.Device.VjG, -0.9)
	want := 1 / (2 * math.Pi * math.Sqrt(s.LLoop*c))
	near(t, "f", 4/(at-start), want, 0.03*want)
}

// Waveforms have no jump and no kink: halving the step of a difference
// quotient changes it little, everywhere around the edges.
func TestSmooth(t *testing.T) {
	w := Demo(600, 50).Waveforms()
	for _, f := range []function{w.V, w.I, w.Vg} {
		for _, c := range w.Commands {
			for x := c.T - 20e-9; x < c.T+100e-9; x += 0.1e-9 {
				a, b := slopeAt(f, x, 2e-12), slopeAt(f, x, 1e-12)
				if math.Abs(a-b) > 2e-3*math.Abs(b)+1e7 {
					t.Fatalf("slope at %g s: %g and %g", x, a, b)
				}
			}
		}
	}
}

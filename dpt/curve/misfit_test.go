package curve

import (
	"fmt"
	"math"
	"testing"
)

// turnOff are invented energies of a turn-off: what the capacitances take is near the
// square of the voltage and stays at small currents, so that one exponent does not serve
// all of them: 1.3 at 25 A, 0.75 at 100 A.
func turnOff() []Point {
	var points []Point
	for k, row := range [][4]float64{
		{26.5e-6, 62.0e-6, 115.5e-6, 181.2e-6},
		{63.7e-6, 109.7e-6, 194.8e-6, 298.1e-6},
		{94.2e-6, 143.6e-6, 247.6e-6, 375.3e-6},
	} {
		for n, y := range row {
			at := At{[]float64{24.8, 49.6, 74.5, 99.3}[n], []float64{303, 603, 803}[k], 298.15, 2.2}
			points = append(points, Point{At: at, Name: fmt.Sprint(at), Y: y, U: 0.01 * y})
		}
	}
	return points
}

// TestMisfit: at the places that were measured the grid lies within 2u of what was,
// whichever form it has; the form that serves them is chosen, with a small misfit.
func TestMisfit(t *testing.T) {
	points := turnOff()
	product, err := Least(NewSurface(points, false), points, Defaults())
	if err != nil {
		t.Fatal(err)
	}
	best, err := LeastSurface(points, false, Defaults())
	if err != nil {
		t.Fatal(err)
	}
	power, err := LeastSurface(points, true, Defaults())
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range []*Fit{product, best, power} {
		g := NewGrid(&Series{Key: "e_off", Symbol: "E_off", Unit: "J", Points: points}, f, nil)
		for _, p := range points {
			e, err := g.At(p.At)
			if err != nil {
				t.Fatal(err)
			}
			if math.Abs(e.Value-p.Y) > 2*e.U {
				t.Errorf("%s at %g A, %g V: %.4g with u %.3g, measured %.4g", f.Model.Formula(), p.I, p.V, e.Value, e.U, p.Y)
			}
		}
	}
	if m := best.Model.(Surface); !m.Apart || best.Misfit() > product.Misfit()/2 {
		t.Errorf("%s misses the points by %.3g, the product by %.3g", m.Formula(), best.Misfit(), product.Misfit())
	}
}

// A surface with as many points as parameters has nothing to be held against: its misfit
// cannot be told, and u is that of the points.
func TestMisfitUnknown(t *testing.T) {
	points := turnOff()[3:7]
	f, err := LeastSurface(points, false, Defaults())
	if err != nil {
		t.Fatal(err)
	}
	g := NewGrid(&Series{Key: "e_off", Unit: "J", Points: points}, f, nil)
	inside := 0
	for k, y := range g.Value {
		if u := float64(g.U[k]); !math.IsNaN(float64(y)) {
			inside++
			if !(u > 0) {
				t.Errorf("u = %g beside %g", u, float64(y))
			}
		}
	}
	if !math.IsNaN(float64(g.Misfit)) || inside == 0 {
		t.Errorf("misfit %g of four points, %d nodes with a number", float64(g.Misfit), inside)
	}
}

// Slopes and their coefficients stand in the units that slopes are told in.
func TestIntervalOfSlope(t *testing.T) {
	for _, c := range []struct {
		x, half    float64
		name, want string
	}{
		{13.04e9, 1.2e9, "V/s", "13.0 ± 1.2 kV/µs"},
		{-131e6, 35e6, "V/s/A", "-131 ± 35 V/µs/A"},
		{2.5e9, 0.1e9, "A/s/V2", "2.50 ± 0.10 A/ns/V²"},
		{12e-6, 1e-6, "J/A", "12.0 ± 1.0 µJ/A"},
	} {
		if got := interval(c.x, c.half, c.name); got != c.want {
			t.Errorf("%g of %s: %q, expected %q", c.x, c.name, got, c.want)
		}
	}
}

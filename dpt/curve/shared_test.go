package curve

import (
	"math"
	"testing"

	"slewbook/dpt/result"
)

// A gain of 2 % that all points share moves the fit by 2 %, as many points as
// there are; a zero that adds 1 µJ everywhere moves it by 1 µJ; both together by
// the root of the sum of their squares (JCGM 100, 5.1.2). Points of two benches
// share neither, so that half of them moves the middle of the fit by half.
func TestSharedInputs(t *testing.T) {
	points := make([]Point, 40)
	for k := range points {
		i := 10 + float64(k)
		y := 2e-6*i + 10e-6
		points[k] = Point{At: At{I: i, V: 400}, Y: y + 1e-9*math.Cos(3*i), U: 0.02 * y, Budget: []result.Contribution{
			{Source: "gain of vds", Effect: 0.02 * y, Scope: result.OfSetup},
			{Source: "zero of vds", Effect: 1e-6, Scope: result.OfSetup},
			{Source: "noise and bits", Effect: 1e-9, Scope: result.OfReading}}}
	}
	m := NewSurface(points, false)
	f, err := Least(m, points, Defaults())
	if err != nil {
		t.Fatal(err)
	}
	for _, i := range []float64{10, 30, 49} {
		y := 2e-6*i + 10e-6
		if e, want := f.Predict(At{I: i, V: 400}), math.Hypot(0.02*y, 1e-6); math.Abs(e.U/want-1) > 1e-3 {
			t.Errorf("%g A: u = %g, expected %g", i, e.U, want)
		}
	}
	// The grid keeps each input apart, so that grids of one campaign can be put together.
	g := NewGrid(&Series{Key: "e_on", Unit: "J", Points: points}, f, nil)
	e, err := g.At(At{I: 27, V: 400, Tj: math.NaN(), Rg: math.NaN()})
	if err != nil || len(g.Shared) != 2 {
		t.Fatalf("%v, shared inputs %v; expected gain and zero", err, g.Shared)
	}
	for k, want := range []float64{0.02 * (2e-6*27 + 10e-6), 1e-6} {
		if math.Abs(e.Shared[k]/want-1) > 1e-3 {
			t.Errorf("grid: %s moves by %g, expected %g", g.Shared[k].Source, e.Shared[k], want)
		}
	}
	for k := range points {
		points[k].Bench = []string{"one", "other"}[k%2]
	}
	if f, err = Least(m, points, Defaults()); err != nil {
		t.Fatal(err)
	}
	y := 2e-6*29.5 + 10e-6
	if e, want := f.Predict(At{I: 29.5, V: 400}), math.Hypot(0.02*y, 1e-6)/math.Sqrt2; math.Abs(e.U/want-1) > 0.01 {
		t.Errorf("two benches: u = %g, expected %g", e.U, want)
	}
}

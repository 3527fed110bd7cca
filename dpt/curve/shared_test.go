package curve

import (
	"math"
	"math/rand/v2"
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

// One shot of forty whose lag could not be taken out stands 30 % off, as its budget tells:
// it is that shot's own, so that the fit stays with the others, though nothing else marks
// it (plain weights); and it is no outlier.
func TestUnsharedInput(t *testing.T) {
	points := make([]Point, 40)
	for k := range points {
		i := 10 + float64(k)
		y := 2e-6*i + 10e-6
		points[k] = Point{At: At{I: i, V: 400}, Name: "other", Y: y * (1 + 1e-3*math.Cos(3*i)), U: 1e-3 * y, Bench: "one", Budget: []result.Contribution{
			{Source: "delay of id", Effect: 1e-3 * y, Scope: result.OfRun},
			{Source: "noise and bits", Effect: 1e-3 * y, Scope: result.OfReading}}}
	}
	lag := &points[39]
	lag.Name, lag.Y = "left in", 1.3*lag.Y
	lag.Budget = []result.Contribution{{Source: "delay of id", Effect: 0.3 * lag.Y, Scope: result.OfSetup}, {Source: "noise and bits", Effect: 1e-3 * lag.Y, Scope: result.OfReading}}
	f, err := Least(NewSurface(points, false), points, Options{Robust: Plain, Common: math.NaN()})
	if err != nil {
		t.Fatal(err)
	}
	want := 2e-6*49 + 10e-6
	if e := f.Predict(At{I: 49, V: 400}); math.Abs(e.Value/want-1) > 2e-3 {
		t.Errorf("at 49 A %g, expected %g: one lag drags the fit", e.Value, want)
	}
	if f.flagged("left in") {
		t.Error("a shot that is off by what its budget tells counts as an outlier")
	}
}

// Of points in two heaps, such as two devices on one curve, the robust weights settle as
// well.
func TestRobustSettles(t *testing.T) {
	for seed := range 120 {
		r := rand.New(rand.NewPCG(uint64(seed), 1))
		var points []Point
		for _, i := range []float64{25, 50, 75, 100} {
			repeats := 2
			switch {
			case seed%3 == 1 && i == 100:
				repeats = 8
			case seed%3 == 2:
				repeats = 1 + r.IntN(4)
			}
			for n := range repeats {
				y := (1 + 0.3*float64(n%2)) * i * (1 + 0.02*r.NormFloat64())
				points = append(points, Point{At: At{I: i}, Y: y, U: y * 0.005 * math.Exp(r.NormFloat64())})
			}
		}
		for _, rule := range []Robust{Huber, Bisquare} {
			if _, _, err := solve(Polynomial{Current, 2}, points, Options{Robust: rule, Common: 0}); err != nil {
				t.Errorf("seed %d, %s: %v", seed, rule, err)
			}
		}
	}
}

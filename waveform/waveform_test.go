package waveform_test

import (
	"math"
	"testing"

	"slewbook/waveform"
	"slewbook/waveform/wavetest"
)

func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s = %.12g, expected %.12g ± %.2g", what, got, want, tol)
	}
}

// Linear interpolation is exact on a linear edge, wherever the grid lies.
func TestCrossingsOfLinearEdge(t *testing.T) {
	e := wavetest.LinearEdge{Low: -3, High: 797, Start: 40e-9, Ramp: 20e-9}
	const dt = 0.8e-9
	for k := range 20 {
		tr := wavetest.Sample(e.At, "v", "V", wavetest.OffGrid(dt, k), dt, 200)
		for _, p := range []float64{0.1, 0.5, 0.9} {
			near(t, "crossing", waveform.FirstCrossing(tr, -3+p*800, waveform.Rising, tr.Span()), e.Instant(p), 1e-15)
		}
		if got := waveform.FirstCrossing(tr, 400, waveform.Falling, tr.Span()); !math.IsNaN(got) {
			t.Errorf("a rising edge falls at %g", got)
		}
	}
}

// On a single-pole edge linear interpolation errs by at most dt²·|y″|/(8·|y′|)
// = dt²/(8·tau); 10 to 90 % takes tau·ln 9 and the slope at the start is the
// steepest (derived).
func TestCrossingsOfExponentialEdge(t *testing.T) {
	e := wavetest.ExponentialEdge{Low: 0, High: 100, Start: 10e-9, Tau: 10e-9}
	const dt = 0.5e-9
	for k := range 20 {
		tr := wavetest.Sample(e.At, "v", "V", wavetest.OffGrid(dt, k), dt, 400)
		a := waveform.FirstCrossing(tr, 10, waveform.Rising, tr.Span())
		b := waveform.FirstCrossing(tr, 90, waveform.Rising, tr.Span())
		near(t, "10-90 %", b-a, 10e-9*math.Log(9), 2*dt*dt/(8*10e-9))
	}
}

func TestCrossingDirectionsAndEnds(t *testing.T) {
	tr := &waveform.Trace{T0: 0, Dt: 1, Y: []float64{0, 2, 0, 2, 2, 0}}
	all := tr.Span()
	near(t, "first rising", waveform.FirstCrossing(tr, 1, waveform.Rising, all), 0.5, 0)
	near(t, "first falling", waveform.FirstCrossing(tr, 1, waveform.Falling, all), 1.5, 0)
	near(t, "last rising", waveform.LastCrossing(tr, 1, waveform.Rising, all), 2.5, 0)
	near(t, "rising inside", waveform.FirstCrossing(tr, 1, waveform.Rising, waveform.Interval{From: 0.6, To: 5}), 2.5, 0)
	if got := waveform.FirstCrossing(tr, 1, waveform.Rising, waveform.Interval{From: 2.6, To: 5}); !math.IsNaN(got) {
		t.Errorf("found a crossing at %g where there is none", got)
	}
	// A segment that ends on the level has passed it, one that starts on it has not.
	near(t, "ends on the level", waveform.FirstCrossing(tr, 2, waveform.Rising, all), 1, 0)
	if got := waveform.FirstCrossing(tr, 0, waveform.Rising, all); !math.IsNaN(got) {
		t.Errorf("a start on the level counted as crossing at %g", got)
	}
}

func TestCrossingBehindOverRange(t *testing.T) {
	for _, bad := range []float64{math.Inf(1), math.NaN()} {
		tr := &waveform.Trace{Dt: 1, Y: []float64{0, bad, 3, 0, 3}}
		if got := waveform.FirstCrossing(tr, 1, waveform.Rising, tr.Span()); !math.IsNaN(got) {
			t.Errorf("with %g before it, a first crossing at %g was claimed", bad, got)
		}
	}
}

func TestTransitionsNeedHysteresis(t *testing.T) {
	// Up through the middle, back to it, up; down to a third, up; down.
	tr := &waveform.Trace{Dt: 1, Y: []float64{0, 6, 4, 10, 10, 3.4, 10, 0, 0}}
	got := waveform.Transitions(tr, 2.5, 7.5)
	if len(got) != 2 || got[0].Dir != waveform.Rising || got[1].Dir != waveform.Falling {
		t.Fatalf("transitions %+v, expected one up and one down", got)
	}
	near(t, "up", got[0].T, 2+1.0/6, 1e-12)
}

// Integrals split: over [a, b] and [b, c] they add up to [a, c], at any b.
func TestIntegralsSplit(t *testing.T) {
	r := wavetest.GaussianEdge{Low: -2, High: 30, Mid: 50e-9, Sigma: 9e-9}
	v := wavetest.Sample(r.At, "v", "V", 0.3e-9, 1e-9, 100)
	i := wavetest.Sample(func(t float64) float64 { return 20 - r.At(t)/3 }, "i", "A", 0.85e-9, 1.3e-9, 75)
	for k := range 50 {
		b := 20e-9 + float64(k)*1.17e-9
		whole := waveform.Interval{From: 10.1e-9, To: 92.7e-9}
		one, two := waveform.Interval{From: whole.From, To: b}, waveform.Interval{From: b, To: whole.To}
		near(t, "integral", waveform.Integral(v, one)+waveform.Integral(v, two), waveform.Integral(v, whole), 1e-18)
		near(t, "product", waveform.ProductIntegral(v, i, one)+waveform.ProductIntegral(v, i, two), waveform.ProductIntegral(v, i, whole), 1e-17)
		near(t, "product, swapped", waveform.ProductIntegral(i, v, one), waveform.ProductIntegral(v, i, one), 1e-18)
	}
}

// The product of two straight lines is integrated exactly on any two grids: a
// resistive commutation gives VIT/6 (Erickson-type textbook result, derived)
// without the -1/N² of the trapezoid rule.
func TestProductIntegralOfRamps(t *testing.T) {
	const dt = 2e-9 // ten samples on the edge
	v := wavetest.LinearEdge{Low: 0, High: 800, Start: 20e-9, Ramp: 20e-9}
	i := wavetest.LinearEdge{Low: 20, High: 0, Start: 20e-9, Ramp: 20e-9}
	a := wavetest.Sample(v.At, "v", "V", 0, dt, 40)
	b := wavetest.Sample(i.At, "i", "A", 0, dt, 40)
	near(t, "VIT/6", waveform.ProductIntegral(a, b, waveform.Interval{From: 10e-9, To: 50e-9}), 800*20*20e-9/6, 1e-12)
	near(t, "inside one sample", waveform.ProductIntegral(a, b, waveform.Interval{From: 30.1e-9, To: 30.2e-9}), 406*9.85*0.1e-9, 1e-11)
}

func TestIntegralsRefuse(t *testing.T) {
	good := &waveform.Trace{Dt: 1, Y: []float64{1, 1, 1, 1, 1, 1}}
	bad := &waveform.Trace{Dt: 1, Y: []float64{1, 1, math.Inf(1), 1, 1, 1}}
	for name, got := range map[string]float64{
		"over-range sample":  waveform.Integral(bad, waveform.Interval{From: 0.5, To: 3}),
		"over-range product": waveform.ProductIntegral(good, bad, waveform.Interval{From: 0.5, To: 3}),
		"reversed":           waveform.ProductIntegral(good, good, waveform.Interval{From: 3, To: 1}),
		"out of the record":  waveform.ProductIntegral(good, good, waveform.Interval{From: 3, To: 5.5}),
		"before the record":  waveform.Integral(good, waveform.Interval{From: -1, To: 3}),
		"to infinity":        waveform.ProductIntegral(good, good, waveform.Interval{From: 1, To: math.Inf(1)}),
		"from nowhere":       waveform.ProductIntegral(good, good, waveform.Interval{From: math.NaN(), To: 3}),
	} {
		if !math.IsNaN(got) {
			t.Errorf("%s: got %g, expected no number", name, got)
		}
	}
	near(t, "beside the over-range sample", waveform.ProductIntegral(good, bad, waveform.Interval{From: 3, To: 5}), 2, 1e-12)
}

func TestLevels(t *testing.T) {
	// A state at 800 V with a decaying ring, noise and 8 bits over 1200 V.
	ring := func(t float64) float64 { return 800 + 150*math.Exp(-t/80e-9)*math.Cos(2*math.Pi*40e6*t) }
	tr := wavetest.Sample(ring, "v", "V", 0, 1e-9, 1000)
	wavetest.AddNoise(tr, 1.2, 1)
	wavetest.Quantise(tr, 8, waveform.Range{Min: -200, Max: 1000})
	for _, m := range []waveform.LevelMethod{waveform.Shorth, waveform.HistogramMode} {
		near(t, string(m), waveform.Level(tr.Y, m), 800, 1200.0/256)
	}
	near(t, "shorth, below a quantisation step", waveform.Level(tr.Y[500:], waveform.Shorth), 800, 0.2*1200/256)
	low, high := waveform.States([]float64{0, 0, 0, 0, 5000, 0, 0, 10, 10, 10, 10, 10, 10, 10}, waveform.Shorth)
	near(t, "low state, one spike", low, 0, 0)
	near(t, "high state, one spike", high, 10, 0)
	if l := waveform.Level([]float64{1, 1, math.Inf(1)}, waveform.Shorth); !math.IsNaN(l) {
		t.Errorf("a state with an over-range sample has the level %g", l)
	}
}

// The steepest local fit of a Gaussian edge approaches 1.278 times its 10-90 %
// average slope, of a single-pole edge 2.747 times (derived).
func TestSteepestFit(t *testing.T) {
	e := wavetest.GaussianEdge{Low: 0, High: 800, Mid: 50e-9, Sigma: 8e-9}
	tr := wavetest.Sample(e.At, "v", "V", 0.1e-9, 0.2e-9, 500)
	average := 0.8 * 800 / e.Duration(0.1, 0.9)
	l := waveform.SteepestFit(tr, tr.Span(), 11, waveform.Rising)
	near(t, "steepest/average", l.Slope/average, 1.278, 0.005)
	near(t, "where", l.T, 50e-9, 0.2e-9)
	down := waveform.SteepestFit(tr, tr.Span(), 11, waveform.Falling)
	if down.Slope < -1e-6 {
		t.Errorf("a rising edge falls with %g", down.Slope)
	}
}

func TestFitLine(t *testing.T) {
	tr := wavetest.Sample(func(t float64) float64 { return 3 + 7e6*t }, "i", "A", 0.13e-6, 1e-9, 500)
	l := waveform.FitLine(tr, tr.Span())
	near(t, "slope", l.Slope, 7e6, 1e-3)
	near(t, "value at t = 0", l.At(0), 3, 1e-9)
	near(t, "residual", l.Residual, 0, 1e-9)
}

// A clipped peak gives itself away; a rounded one, a settled gate and an ideal
// rectangle do not.
func TestFlatTops(t *testing.T) {
	const dt = 0.5e-9
	full := waveform.Range{Min: -1000, Max: 1000}
	ring := func(amplitude float64) *waveform.Trace {
		edge := wavetest.GaussianEdge{Low: -700, High: 700, Mid: 100e-9, Sigma: 4e-9}
		tr := wavetest.Sample(func(t float64) float64 {
			y := edge.At(t)
			if t > 110e-9 {
				y += amplitude * math.Exp(-(t-110e-9)/50e-9) * math.Sin(2*math.Pi*60e6*(t-110e-9))
			}
			return y
		}, "v", "V", 0, dt, 2000)
		wavetest.AddNoise(tr, 3, 7)
		wavetest.Quantise(tr, 8, full)
		return tr
	}
	if runs := waveform.FlatTops(ring(900).Y); len(runs) == 0 || runs[0].Sign != 1 {
		t.Errorf("a ring that hits the rail: %v", runs)
	}
	if runs := waveform.FlatTops(ring(150).Y); len(runs) != 0 {
		t.Errorf("a ring inside the range: %v", runs)
	}
	ideal := wavetest.LinearEdge{Low: 0, High: 800, Start: 100e-9, Ramp: 10e-9}
	if runs := waveform.FlatTops(wavetest.Sample(ideal.At, "v", "V", 0, dt, 1000).Y); len(runs) != 0 {
		t.Errorf("an ideal edge: %v", runs)
	}
}

func TestCheck(t *testing.T) {
	for name, c := range map[string]*waveform.Capture{
		"no trace":      {},
		"one sample":    {Traces: []*waveform.Trace{{Dt: 1, Y: []float64{1}}}},
		"no interval":   {Traces: []*waveform.Trace{{Y: []float64{1, 2}}}},
		"infinite time": {Traces: []*waveform.Trace{{Dt: 1, T0: math.Inf(1), Y: []float64{1, 2}}}},
	} {
		if c.Check() == nil {
			t.Errorf("%s: no error", name)
		}
	}
}

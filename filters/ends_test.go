package filters_test

import (
	"math"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"slewbook/filters"
)

// drawRecord draws a record long enough for every filter of these tests.
func drawRecord(t *rapid.T) []float64 {
	n := rapid.IntRange(900, 1200).Draw(t, "n")
	seed := rapid.Uint64().Draw(t, "seed")
	y := make([]float64, n)
	for k := range y { // xorshift: rapid draws too slowly for whole records
		seed ^= seed<<13 + 1
		seed ^= seed >> 7
		seed ^= seed << 17
		y[k] = float64(seed>>11)/(1<<52) - 1
	}
	return y
}

func drawFilter(t *rapid.T, specs []string) filters.Filter {
	f, err := filters.Parse(rapid.SampledFrom(specs).Draw(t, "filter"), dt)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// largest returns the largest difference of two records.
func largest(a, b []float64) float64 {
	m := 0.0
	for k := range a {
		if d := math.Abs(a[k] - b[k]); !(d <= m) {
			m = d
		}
	}
	return m
}

// Straight lines, constants among them, pass every filter to the last sample;
// Butterworth, which starts from a constant, lets constants pass bit by bit and
// lines to 1e-5 of their change over its reach.
func TestLinesPass(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		all := slices.DeleteFunc(slices.Clone(every), func(s string) bool { return s == "sg 9 0" }) // order 0
		f := drawFilter(t, all)
		a := rapid.Float64Range(-1000, 1000).Draw(t, "a")
		b := rapid.SampledFrom([]float64{0, 1, -0.3}).Draw(t, "b")
		y := make([]float64, 1000)
		for k := range y {
			y[k] = a + b*float64(k)
		}
		tol := 1e-9
		if strings.HasPrefix(f.Name, "butter") {
			tol = 1e-5 * math.Abs(b) * float64(f.Reach)
		}
		if d := largest(filtered(t, f, y), y); !(d <= tol) {
			t.Fatalf("%s moves a straight line by %g", f.Name, d)
		}
	})
}

func filtered(t *rapid.T, f filters.Filter, y []float64) []float64 {
	out, err := f.Apply(y)
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// All but the median are linear.
func TestLinear(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := drawFilter(t, linear)
		x, y := drawRecord(t), drawRecord(t)
		n := min(len(x), len(y))
		a := rapid.Float64Range(-10, 10).Draw(t, "a")
		sum, want := make([]float64, n), make([]float64, n)
		fx, fy := filtered(t, f, x[:n]), filtered(t, f, y[:n])
		for k := range sum {
			sum[k], want[k] = a*x[k]+y[k], a*fx[k]+fy[k]
		}
		if d := largest(filtered(t, f, sum), want); !(d <= 1e-11) {
			t.Fatalf("%s is not linear: %g", f.Name, d)
		}
	})
}

// A delay of the input delays the output, away from the ends; time reversed
// input gives time reversed output, the ends included. The forward and the
// backward run of a Butterworth do not start alike, hence its tolerance there.
func TestShiftAndReversal(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := drawFilter(t, every)
		y := drawRecord(t)
		d := rapid.IntRange(1, 100).Draw(t, "delay")
		whole, part := filtered(t, f, y), filtered(t, f, y[d:])
		r := min(2*f.Reach, 400)
		if diff := largest(whole[d+r:len(y)-r], part[r:len(part)-r]); !(diff <= 1e-4) {
			t.Fatalf("%s is not shift invariant: %g", f.Name, diff)
		}
		back := slices.Clone(y)
		slices.Reverse(back)
		back = filtered(t, f, back)
		slices.Reverse(back)
		if diff := largest(whole, back); !(diff <= 1e-3) {
			t.Fatalf("%s tells forward from backward: %g", f.Name, diff)
		}
	})
}

// Apply leaves its input alone, and gives new samples even where nothing moves.
func TestInputUntouched(t *testing.T) {
	for _, spec := range every {
		f := design(t, spec)
		y := make([]float64, 1000)
		for k := range y {
			y[k] = math.Sin(float64(k * k))
		}
		y[500], y[501] = math.NaN(), math.Inf(1)
		before := slices.Clone(y)
		out := apply(t, f, y)
		out[0]++
		if !slices.EqualFunc(before, y, func(a, b float64) bool { return math.Float64bits(a) == math.Float64bits(b) }) {
			t.Errorf("%s changed its input", spec)
		}
	}
}

// A sample that is not finite spoils the samples that it has a part in and no
// other, wherever it is. What it has a part in is found by moving it: weights
// of 0 (Savitzky-Golay has some) count as a part, and so does what a median
// passes over.
func TestNotFinite(t *testing.T) {
	const n = 900
	for _, spec := range every {
		f := design(t, spec)
		for _, bad := range []float64{math.NaN(), math.Inf(1), math.Inf(-1)} {
			for _, at := range []int{0, 1, 3, 7, 12, 450, n - 12, n - 7, n - 2, n - 1} {
				y := make([]float64, n)
				for k := range y {
					y[k] = math.Sin(float64(k * k))
				}
				clean := apply(t, f, y)
				y[at] += 1
				moved := apply(t, f, y)
				y[at] = bad
				for k, v := range apply(t, f, y) {
					far := k < at-f.Reach || k > at+f.Reach
					switch {
					case v-v != 0 && !math.IsNaN(v):
						t.Fatalf("%s, %g at %d: sample %d is %g", spec, bad, at, k, v)
					case math.Abs(moved[k]-clean[k]) > 1e-4 && !math.IsNaN(v):
						t.Fatalf("%s, %g at %d: sample %d is %g and depends on it", spec, bad, at, k, v)
					case far && !(math.Abs(v-clean[k]) <= 1e-4) && !inEndWindow(spec, f, at, k, n):
						t.Fatalf("%s, %g at %d: sample %d is %g, was %g", spec, bad, at, k, v, clean[k])
					case !far && !math.IsNaN(v):
						t.Fatalf("%s, %g at %d: sample %d is %g", spec, bad, at, k, v)
					}
				}
			}
		}
	}
}

// inEndWindow tells whether samples at and k are in the window that Savitzky-
// Golay fits at one end.
func inEndWindow(spec string, f filters.Filter, at, k, n int) bool {
	w := 2 * f.Reach
	return spec[:2] == "sg" && (at <= w && k < f.Reach || at >= n-1-w && k >= n-f.Reach)
}

// Nothing but bad samples leaves nothing.
func TestAllBad(t *testing.T) {
	y := slices.Repeat([]float64{math.Inf(1)}, 1000)
	for _, spec := range every {
		for k, v := range apply(t, design(t, spec), y) {
			if !math.IsNaN(v) {
				t.Fatalf("%s: sample %d is %g", spec, k, v)
			}
		}
	}
}

// A median leaves monotone stretches as they are, to the ends, and takes spikes
// of up to half its window out.
func TestMedianRoots(t *testing.T) {
	f := design(t, "median 7")
	y := make([]float64, 200)
	for k := range y {
		y[k] = math.Tanh(float64(k-80) / 3)
	}
	out := apply(t, f, y)
	if !slices.Equal(out, y) {
		t.Error("a monotone edge has changed")
	}
	spiky := slices.Clone(y)
	spiky[150], spiky[151], spiky[152] = 40, -40, 40
	near(t, "spikes", largest(apply(t, f, spiky), y), 0, 1e-9)
}

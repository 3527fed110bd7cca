package waveform

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// The order is that of slices.Sort, whatever part of the bits differs.
func TestSorted(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	for name, draw := range map[string]func() float64{
		"noise on a level": func() float64 { return 800 + 4*rng.NormFloat64() },
		"codes":            func() float64 { return float64(rng.IntN(4096)-2048) * 0.25 },
		"printed decimals": func() float64 { return math.Round(rng.NormFloat64()*1e3) / 1e3 },
		"any size":         func() float64 { return rng.NormFloat64() * math.Pow(10, float64(rng.IntN(600)-300)) },
		"any bits":         func() float64 { return math.Float64frombits(rng.Uint64() &^ (1 << 62)) },
		"one value":        func() float64 { return -3.25 },
		"two values":       func() float64 { return float64(rng.IntN(2)) },
		"zeros":            func() float64 { return math.Copysign(0, rng.Float64()-0.5) },
	} {
		for _, n := range []int{1, 100, 511, 512, 30000} {
			y := make([]float64, n)
			for k := range y {
				y[k] = draw()
			}
			given := slices.Clone(y)
			got := sorted(y)
			if !slices.Equal(y, given) {
				t.Errorf("%s, %d: y itself has changed", name, n)
			}
			slices.Sort(given)
			if !slices.Equal(got, given) {
				t.Errorf("%s, %d: not in order", name, n)
			}
			for _, nth := range []int{0, n / 3, n / 2, n - 1} {
				if got := Nth(slices.Clone(y), nth); got != given[nth] {
					t.Errorf("%s, %d: number %d is %g, not %g", name, n, nth, got, given[nth])
				}
			}
		}
	}
}

// Levels are those of the samples sorted by comparing, to the last bit.
func TestLevelOfManySamples(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	y := make([]float64, 20000)
	for k := range y {
		y[k] = math.Round(4*(800+3*rng.NormFloat64()+50*math.Exp(-float64(k)/500))) / 4
	}
	s := slices.Clone(y)
	slices.Sort(s)
	lo, hi := shortest(s, len(s)/2+1)
	a, _ := slices.BinarySearch(s, (lo+hi)/2-2*(hi-lo))
	b, _ := slices.BinarySearch(s, math.Nextafter((lo+hi)/2+2*(hi-lo), math.Inf(1)))
	if got, want := Level(y, Shorth), Mean(s[a:b]); got != want {
		t.Errorf("got %v, want %v", got, want)
	}
}

func TestMedian5(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var five [5]float64
		for k := range five {
			five[k] = rapid.SampledFrom([]float64{0, 1, 2, 3, 4, math.NaN(), math.Inf(1), math.Inf(-1)}).Draw(t, "y")
		}
		s := five
		slices.Sort(s[:])
		if got, want := median5(five), s[2]; got != want && !(math.IsNaN(got) && math.IsNaN(want)) {
			t.Fatalf("median of %v is %g, expected %g", five, got, want)
		}
	})
}

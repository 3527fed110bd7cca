package waveform

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// FlatTops looks at every third sample only; no run is lost by that, wherever
// it begins.
func TestFlatTopsAnywhere(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		y := make([]float64, rapid.IntRange(60, 120).Draw(t, "n"))
		for k := range y {
			y[k] = float64(k*37%61-30) / 60
		}
		var want []Run
		for k := rapid.IntRange(20, 25).Draw(t, "first"); k+9 < len(y)-20; k += rapid.IntRange(30, 40).Draw(t, "distance") {
			r := Run{k, k + rapid.IntRange(2, 8).Draw(t, "length"), rapid.SampledFrom([]int{-1, +1}).Draw(t, "sign")}
			for i := r.First; i <= r.Last; i++ {
				y[i] = float64(100 * r.Sign)
			}
			want = append(want, r)
		}
		if got := FlatTops(y); !slices.Equal(got, want) {
			t.Fatalf("got %v, want %v", got, want)
		}
	})
}

// A slow ramp that stops at the top of the range has no steep flank but no noise
// either; a signal that is at rest there, or rests between two codes, is not clipped.
func TestFlatTopsPinned(t *testing.T) {
	const n = 2000
	ramp := func(noise, top float64, bits int, seed uint64) []float64 {
		rng := rand.New(rand.NewPCG(seed, 1))
		step := 100 / math.Exp2(float64(bits))
		y := make([]float64, n)
		for k := range y {
			y[k] = 60 * min(float64(k), 0.9*n) / n
			if k > 0.95*n {
				y[k] = 30
			}
			y[k] = min(math.Round((y[k]+noise*rng.NormFloat64())/step)*step, top)
		}
		return y
	}
	for seed := range uint64(20) {
		for _, bits := range []int{8, 10, 12} {
			step := 100 / math.Exp2(float64(bits))
			top := step * math.Round(48/step)
			y := ramp(1.5*step, top, bits, seed)
			clipped := 0
			for _, r := range FlatTops(y) {
				clipped += r.Last - r.First + 1
			}
			at := 0
			for _, v := range y {
				if v == top {
					at++
				}
			}
			if clipped != at || at < 200 {
				t.Errorf("%d bits: %d of %d samples at the rail are found", bits, clipped, at)
			}
			for _, noise := range []float64{0, 0.05, 0.1, 0.2, 0.3, 0.5, 0.8, 1.2, 2, 5} {
				if got := FlatTops(ramp(noise*step, 1000, bits, seed)); got != nil {
					t.Errorf("%d bits, noise of %g steps, a plateau: %v", bits, noise, got)
				}
			}
		}
	}
}

// quantised rounds to steps of a converter of that many bits whose range is 100; 0 leaves
// all as it is.
func quantised(y []float64, bits int) []float64 {
	step := 100 / math.Exp2(float64(bits))
	z := slices.Clone(y)
	for k := range z {
		if bits > 0 {
			z[k] = math.Round(z[k]/step) * step
		}
	}
	return z
}

// A peak that a converter cut has steep flanks beside its flat top, with noise or
// without; the same peak uncut, and the states of an ideal trace, have not. What else
// stands at the end of the range is clipped too, however short.
func TestFlatTopsWithoutNoise(t *testing.T) {
	peak := make([]float64, 3000) // a Gaussian on a state, and one less high
	state := make([]float64, 3000)
	for k := range peak {
		gauss := func(at, width float64) float64 { d := (float64(k) - at) / width; return math.Exp(-d * d) }
		peak[k] = 20 + 60*gauss(1000.3, 12) + 40.2*gauss(2000, 3)
		state[k] = 60 / (1 + math.Exp(-(float64(k)-1000)/3)) / (1 + math.Exp((float64(k)-2000)/3))
	}
	for _, bits := range []int{0, 8, 10, 12} {
		for name, y := range map[string][]float64{"an uncut peak": peak, "a state": state} {
			if got := FlatTops(quantised(y, bits)); got != nil {
				t.Errorf("%d bits, %s: %v", bits, name, got)
			}
		}
		for _, top := range []float64{40, 50, 60, 70, 75} {
			y := quantised(peak, bits)
			rail := quantised([]float64{top}, bits)[0]
			want := 0
			for k := range y {
				if y[k] = min(y[k], rail); y[k] == rail {
					want++
				}
			}
			got := 0
			for _, r := range FlatTops(y) {
				got += r.Last - r.First + 1
			}
			if got != want {
				t.Errorf("%d bits, cut at %g: %d of %d samples are found", bits, top, got, want)
			}
		}
	}
}

// Noise of a converter of 8 bits that a finer one writes again makes three equal
// samples at an end of the record now and then; they are not clipped.
func TestFlatTopsCoarseNoise(t *testing.T) {
	y := make([]float64, 3000)
	for seed := range uint64(20) {
		rng := rand.New(rand.NewPCG(seed, 2))
		for k := range y {
			y[k] = 30 + 20*math.Exp(-float64(k)/400)*math.Sin(float64(k)/8) + 0.15*rng.NormFloat64()
		}
		coarse := quantised(y, 8)
		for k := range coarse {
			coarse[k] *= 0.37 // so that its steps are no multiple of the finer ones
		}
		if got := FlatTops(quantised(coarse, 12)); got != nil {
			t.Errorf("seed %d: %v", seed, got)
		}
	}
}

package waveform_test

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"slewbook/waveform"
	"slewbook/waveform/wavetest"
)

// ringing is an edge of 800 V whose 10-90 % rise takes rise samples, with a ringing as
// fast as a channel of that rise passes (0.35/rise), noise, and bits if there are any.
func ringing(rise, noise float64, bits int, seed uint64) []float64 {
	const dt, mid = 1e-9, 200.3e-9
	edge := wavetest.GaussianEdge{Low: 5, High: 800, Mid: mid, Sigma: rise * dt / 2.5631}
	f := 0.35 / (rise * dt)
	tr := wavetest.Sample(func(t float64) float64 {
		y := edge.At(t)
		if t > mid {
			y += 250 * math.Exp(-(t-mid)*f/3) * math.Sin(2*math.Pi*f*(t-mid))
		}
		return y
	}, "v", "V", 0, dt, 1000)
	if noise > 0 {
		wavetest.AddNoise(tr, noise, seed)
	}
	if bits > 0 {
		wavetest.Quantise(tr, bits, waveform.Range{Min: -100, Max: 1300})
	}
	return tr.Y
}

// Edges and ringing of three samples a rise and more are not outliers, with noise and
// without, whatever the converter.
func TestOutliersNone(t *testing.T) {
	for _, rise := range []float64{3, 3.5, 4, 6, 10, 40} {
		for _, noise := range []float64{0, 0.5, 3, 20} {
			for _, bits := range []int{0, 4, 6, 8, 12} {
				for seed := range uint64(10) {
					if got := waveform.Outliers(ringing(rise, noise, bits, seed)); got != nil {
						t.Fatalf("rise %g samples, noise %g V, %d bits: %v", rise, noise, bits, got)
					}
				}
			}
		}
	}
}

// Pulses as short as a channel of two samples a rise passes stay, wherever they fall
// between the samples; and coarse traces of steps and pulses.
func TestOutliersPulse(t *testing.T) {
	for at := 50.0; at < 51; at += 0.05 {
		for _, rise := range []float64{2, 3, 5} {
			sigma := rise / 2.5631
			y := wavetest.Sample(func(t float64) float64 {
				return 40*0.5*math.Erfc(-(t-150)/(math.Sqrt2*sigma)) + 100*math.Exp(-(t-at)*(t-at)/(2*sigma*sigma))
			}, "i", "A", 0, 1, 300).Y
			if got := waveform.Outliers(y); got != nil {
				t.Errorf("pulse at %.2f, %g samples a rise: %v", at, rise, got)
			}
		}
	}
	coarse := make([]float64, 100)
	for k := 50; k < 100; k++ {
		coarse[k] = 40
	}
	coarse[50] = 110 // a peak of one sample where an edge takes one, too
	if got := waveform.Outliers(coarse); got != nil {
		t.Errorf("a coarse trace: %v", got)
	}
}

// A wild sample is found wherever it stands, whatever its size, and nothing else is.
func TestOutliersFound(t *testing.T) {
	for _, rise := range []float64{3, 8} {
		for _, at := range [][]int{{0}, {1}, {2}, {50}, {50, 51}, {50, 53}, {198}, {200}, {201}, {203}, {215}, {600}, {997}, {998}, {999}, {0, 400, 999}} {
			for _, wild := range []float64{-6000, 5000, 32e3, -1e6, 1e6, 1e300} {
				y := ringing(rise, 3, 8, 1)
				for n, k := range at {
					y[k] = wild * (1 + 0.3*float64(n))
				}
				if got := waveform.Outliers(y); !slices.Equal(got, at) {
					t.Errorf("%g samples a rise, %g V at %v: %v", rise, wild, at, got)
				}
			}
		}
		// In a stretch at rest the noise is the measure.
		for _, wild := range []float64{0, 100, 650, 950, 1500} {
			y := ringing(rise, 3, 8, 1)
			y[600] = wild
			if got := waveform.Outliers(y); !slices.Equal(got, []int{600}) {
				t.Errorf("%g samples a rise, %g V at rest: %v", rise, wild, got)
			}
		}
	}
	// Of very unlike sizes side by side, and beside samples that are lost.
	y := ringing(4, 3, 8, 1)
	y[500], y[504], y[700], y[701], y[702] = 1e6, 3e3, math.NaN(), 20e3, math.Inf(1)
	if got := waveform.Outliers(y); !slices.Equal(got, []int{500, 504}) {
		t.Errorf("of unlike sizes: %v", got)
	}
	for _, y := range [][]float64{nil, {1}, {1, 2, 1}, make([]float64, 50), {math.NaN(), math.NaN(), math.NaN(), math.NaN(), math.NaN(), math.NaN()}} {
		if got := waveform.Outliers(y); got != nil {
			t.Errorf("%v: %v", y, got)
		}
	}
}

func BenchmarkOutliers(b *testing.B) {
	y := slices.Repeat(ringing(10, 5, 8, 1), 1000)
	b.SetBytes(int64(len(y)))
	for b.Loop() {
		waveform.Outliers(y)
	}
}

func ExampleOutliers() {
	y := []float64{400, 401, 400, 399, 400, 401, 1e6, 399, 400, 401, 400, 398, 399, 400, 300, 200, 100, 1, 0, 1, 0, 1, 0, 1}
	fmt.Println(waveform.Outliers(y))
	// Output: [6]
}

// A burst that goes and comes back in one step each, far larger than any other of the
// trace, is no signal: at rest, on the top of a ringing and on an edge, whatever the
// converter. As long a pulse with flanks like those of the trace is left.
func TestOutliersBurst(t *testing.T) {
	for _, bits := range []int{0, 8, 12} {
		for n := 3; n <= 8; n++ {
			for _, at := range []int{100, 195, 215, 900} {
				y := ringing(20, 0.5, bits, uint64(n))
				want := make([]int, n)
				for k := range want {
					want[k] = at + k
					y[at+k] = 2000 + 100*float64(k%2)
				}
				if got := waveform.Outliers(y); !slices.Equal(got, want) {
					t.Errorf("%d bits, a burst of %d at %d: %v", bits, n, at, got)
				}
			}
		}
	}
	pulses := make([]float64, 300) // coarse: each edge within one step
	for k := range pulses {
		if k >= 100 && k < 200 || k >= 220 && k < 225 {
			pulses[k] = 800
		}
	}
	if got := waveform.Outliers(pulses); got != nil {
		t.Errorf("a short second pulse: %v", got)
	}
}

// Several bursts in one trace, of one height or of several, even or ragged, are found all.
func TestOutliersBursts(t *testing.T) {
	for _, bits := range []int{0, 8, 12} {
		y := ringing(20, 0.5, bits, 1)
		var want []int
		for j, at := range []int{100, 400, 700, 900} {
			for k := range 4 + j {
				want = append(want, at+k)
				y[at+k] = 2000 - 300*float64(j)
				if j%2 == 1 {
					y[at+k] = 3000 * float64(1-k%3) // there and beyond, and to the other side
					if y[at+k] == 0 {
						y[at+k] = 1500
					}
				}
			}
		}
		if got := waveform.Outliers(y); !slices.Equal(got, want) {
			t.Errorf("%d bits: %v, expected %v", bits, got, want)
		}
	}
}

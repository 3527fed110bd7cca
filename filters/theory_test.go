package filters_test

import (
	"math"
	"math/rand"
	"testing"

	"slewbook/filters"
)

const dt = 0.1e-9

func design(t *testing.T, spec string) filters.Filter {
	t.Helper()
	f, err := filters.Parse(spec, dt)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

func apply(t testing.TB, f filters.Filter, y []float64) []float64 {
	t.Helper()
	out, err := f.Apply(y)
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// impulse is a record of n samples, all 0 but the middle one.
func impulse(n int) []float64 {
	y := make([]float64, n)
	y[n/2] = 1
	return y
}

// linear are filters that have weights, all with sum 1; every is all.
var (
	linear = []string{"mean 1", "mean 9", "sg 11 3", "sg 31 4", "sg 9 0", "gauss 200 MHz", "gauss 2 GHz", "butter 1 200 MHz", "butter 4 100 MHz", "butter 5 1 GHz", "butter 4 bw 100 MHz"}
	every  = append([]string{"median 1", "median 5"}, linear...)
)

// The weights have sum 1 (gain 1 at DC), are the same on both sides (no phase),
// and give a sine at the bandwidth the gain 1/√2.
func TestWeights(t *testing.T) {
	for _, spec := range linear {
		f := design(t, spec)
		w := apply(t, f, impulse(8001))
		sum, gain, skew := 0.0, 0.0, 0.0
		for k, v := range w {
			sum += v
			gain += v * math.Cos(2*math.Pi*f.Bandwidth*dt*float64(k-4000))
			skew = max(skew, math.Abs(v-w[8000-k]))
		}
		near(t, spec+": gain at DC", sum, 1, 1e-12)
		near(t, spec+": difference of both sides", skew, 0, 1e-12)
		if !math.IsNaN(f.Bandwidth) {
			near(t, spec+": gain at the bandwidth", gain, math.Sqrt2/2, 1e-9)
		}
	}
}

// What lies beyond the reach, which bounds what a bridged sample does, and how
// far the ends of the record act: nothing, or 1e-4 of all with Butterworth.
func TestReach(t *testing.T) {
	for _, spec := range append([]string{"butter 20 100 MHz", "butter 2 4 GHz", "butter 12 50 MHz"}, linear...) {
		f := design(t, spec)
		rest := 0.0
		for k, v := range apply(t, f, impulse(40001)) {
			if k < 20000-f.Reach || k > 20000+f.Reach {
				rest += math.Abs(v)
			}
		}
		near(t, spec+": weight beyond the reach", rest, 0, 1e-4)
	}
}

// Durations of a step by theory: 0.8·N·dt of a moving average; 0.3396/BW of a
// Gaussian; and of two Gaussians in series the root of the sum of squares.
// 0.3497/BW of a single pole is not that of a pole forward and backward, whose
// response is exp(-|t|/τ)/(2τ): 2·ln 5·τ (derived).
func TestRiseOfStep(t *testing.T) {
	near(t, "mean 9", design(t, "mean 9").RiseTime(0), 0.8*9*dt, 1e-9*dt)
	near(t, "mean 1", design(t, "mean 1").RiseTime(0), 0.8*dt, 1e-9*dt)
	g := design(t, "gauss 20 MHz") // 66 samples wide: straight lines err by 2e-5
	near(t, "gauss 20 MHz", g.RiseTime(0), 0.33962/20e6, 5e-5*17e-9)
	near(t, "gauss 20 MHz, edge of 25 ns", g.RiseTime(25e-9), math.Hypot(25e-9, 16.981e-9), 5e-5*30e-9)
	tau := 1 / (2 * math.Pi * 50e6)
	near(t, "butter 1 50 MHz", design(t, "butter 1 50 MHz").RiseTime(0), 2*math.Log(5)*tau, 1e-3*tau)
	near(t, "a long edge", g.RiseTime(1e-3), 1e-3, 2e-5*1e-3)
	slope, err := filters.SavitzkyGolay(11, 3, 1, dt)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "a derivative", slope.RiseTime(5e-9), math.NaN(), 0)
	for _, edge := range []float64{-1, math.NaN(), math.Inf(1)} {
		near(t, "no duration", g.RiseTime(edge), math.NaN(), 0)
	}
}

// Bandwidths by theory. Moving average of many samples: sin(x)/x = 1/√2 at
// x = πf·n·dt = 1.39156. Savitzky-Golay of order 2 or 3 over many: the kernel
// (9-15u²)/8 over -1 < u < 1 has the gain j0(x) + 2.5·j2(x) with spherical
// Bessel functions, 1/√2 at x = πf·n·dt = 3.34311 (derived; roots by
// scipy.optimize.brentq). Butterworth: (√2-1)^(1/(2·order)) of a corner far
// below Nyquist.
func TestBandwidths(t *testing.T) {
	near(t, "mean 501", design(t, "mean 501").Bandwidth, 1.39156/(math.Pi*501*dt), 1e-5/(501*dt))
	near(t, "sg 501 3", design(t, "sg 501 3").Bandwidth, 3.34311/(math.Pi*501*dt), 2e-5/(501*dt))
	near(t, "butter 4 10 MHz", design(t, "butter 4 10 MHz").Bandwidth, 10e6*math.Pow(math.Sqrt2-1, 1.0/8), 10)
	near(t, "butter 4 bw 10 MHz", design(t, "butter 4 bw 10 MHz").Bandwidth, 10e6, 1e-3)
	near(t, "order 0", filters.ButterworthCorner(0, 1e6, dt), math.NaN(), 0)
}

// Variance that is left of white noise of variance 1, by theory: 1/n of a
// moving average; 1/(2√π·s) of a Gaussian of s samples; Σw² of Savitzky-Golay,
// which is the middle weight of a projection: (3/4)(3n²-7)/(n(n²-4)) for order 2
// and 3; for Butterworth twice the integral of 1/(1+x^2N)² over x from 0, times
// the corner in cycles per sample: N = 1: π/4, N = 2: 3π/(8√2). (All derived.)
func TestNoise(t *testing.T) {
	for spec, want := range map[string]float64{
		"mean 9":           1.0 / 9,
		"gauss 200 MHz":    1 / (2 * math.Sqrt(math.Pi) * 0.1325057 / (200e6 * dt)),
		"sg 11 3":          0.75 * (3*121 - 7) / (11 * (121 - 4)),
		"butter 1 100 MHz": 2 * 0.01 * math.Pi / 4,
		"butter 2 100 MHz": 2 * 0.01 * 3 * math.Pi / (8 * math.Sqrt2),
	} {
		sum := 0.0
		for _, v := range apply(t, design(t, spec), impulse(8001)) {
			sum += v * v
		}
		near(t, spec, sum, want, 1e-3*want) // the corner is not quite 0
	}
}

// Variance of the median of n of a normal distribution: 0.4487 for 3, 0.2868
// for 5 (tables of order statistics, such as David, Nagaraja, from memory).
func TestNoiseOfMedian(t *testing.T) {
	rng := rand.New(rand.NewSource(3))
	y := make([]float64, 400_000)
	for k := range y {
		y[k] = rng.NormFloat64()
	}
	for spec, want := range map[string]float64{"median 3": 0.4487, "median 5": 0.2868} {
		sum := 0.0
		for _, v := range apply(t, design(t, spec), y) {
			sum += v * v
		}
		near(t, spec, sum/float64(len(y)), want, 0.005) // 4 deviations of this estimate
	}
}

// Polynomials up to the order pass, with their derivatives, to the ends.
func TestSavitzkyGolayPolynomials(t *testing.T) {
	for _, n := range []int{21, 51, 201} {
		for order := range 11 {
			for s := range min(order, 3) + 1 {
				f, err := filters.SavitzkyGolay(n, order, s, dt)
				if err != nil {
					t.Fatal(err)
				}
				y, want := make([]float64, 300), make([]float64, 300)
				for k := range y {
					x := float64(k)/150 - 1
					c := 1.0
					for d := range s {
						c *= float64(order-d) / (150 * dt)
					}
					y[k] = math.Pow(x, float64(order))
					want[k] = c * math.Pow(x, float64(order-s))
				}
				sameSamples(t, f.Name, apply(t, f, y), want)
			}
		}
	}
}

// A step overshoots by the 7 % that the doc comment says.
func TestButterworthOvershoot(t *testing.T) {
	y := make([]float64, 4000)
	for k := 2000; k < 4000; k++ {
		y[k] = 1
	}
	top := 0.0
	for _, v := range apply(t, design(t, "butter 4 100 MHz"), y) {
		top = max(top, v)
	}
	near(t, "overshoot", top-1, 0.07, 0.005)
}

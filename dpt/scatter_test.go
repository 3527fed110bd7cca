package dpt

import (
	"math"
	"math/rand/v2"
	"testing"

	"slewbook/filters"
)

// Means and standard deviations of the largest of n normal values: tables of order
// statistics, from memory.
func TestLargestOfNoise(t *testing.T) {
	for _, c := range []struct {
		n            int
		mean, spread float64
	}{{1, 0, 1}, {10, 1.5388, 0.5868}, {100, 2.5076, 0.4294}, {1000, 3.2414, 0.3514}} {
		above, spread := grain{sigma: 2, reach: 1}.largest(c.n)
		if math.Abs(above-2*c.mean) > 0.03 || math.Abs(spread/(2*c.spread)-1) > 0.12 {
			t.Errorf("largest of %d: %.4f ± %.4f, want %.4f ± %.4f", c.n, above, spread, 2*c.mean, 2*c.spread)
		}
	}
	// A reach of six samples leaves half of them.
	a, _ := grain{sigma: 1, reach: 6}.largest(20)
	if b, _ := (grain{sigma: 1, reach: 1}).largest(10); a != b {
		t.Errorf("twenty with a reach of six: %g, want %g", a, b)
	}
}

// crossings draws when a noisy ramp of one unit a sample first passes zero, by
// straight lines between its samples, and returns mean and standard deviation.
func crossings(sigma, reach float64, n int) (mean, spread float64) {
	rng := rand.New(rand.NewPCG(1, 2))
	s := max(reach/(2*math.Sqrt(math.Pi)), 1e-3) // of the Gaussian filter behind which 1 + 2Σρ = reach
	var s1, s2 float64
	half := int(math.Ceil(4 * s))
	weights, power := make([]float64, 2*half+1), 0.0
	for k := range weights {
		weights[k] = math.Exp(-math.Pow(float64(k-half)/s, 2) / 2)
		power += weights[k] * weights[k]
	}
	past := make([]float64, len(weights))
	hiss := func() float64 {
		copy(past, past[1:])
		past[len(past)-1] = rng.NormFloat64()
		return sigma * dot(past, weights) / math.Sqrt(power)
	}
	for range n {
		for range past {
			hiss()
		}
		before := math.Inf(-1)
		for x := -math.Ceil(8*sigma+2) + rng.Float64(); ; x++ {
			y := x + hiss()
			if y >= 0 {
				at := x - y/(y-before)
				s1 += at
				s2 += at * at
				break
			}
			before = y
		}
	}
	mean = s1 / float64(n)
	return mean, math.Sqrt(s2/float64(n) - mean*mean)
}

// The first passage of a noisy ramp against drawing it 5000 times: the mean to a
// tenth and a twentieth of the spread, the spread to a fifth.
func TestPassage(t *testing.T) {
	for _, c := range []struct{ sigma, reach float64 }{{0.05, 1}, {0.5, 1}, {3, 1}, {30, 1}, {0.2, 4}, {30, 4}} {
		early, spread := grain{sigma: c.sigma, reach: c.reach}.passage(1, 1)
		mean, scatter := crossings(c.sigma, c.reach, 5000)
		if math.Abs(early-mean) > 0.1*math.Abs(mean)+0.05*scatter {
			t.Errorf("σ %g, reach %g: early by %.4g, drawn %.4g", c.sigma, c.reach, early, mean)
		}
		if math.Abs(spread/scatter-1) > 0.2 {
			t.Errorf("σ %g, reach %g: spread %.4g, drawn %.4g", c.sigma, c.reach, spread, scatter)
		}
	}
	if early, spread := (grain{sigma: 1, reach: 1}).passage(math.NaN(), 1); early == early || spread == spread {
		t.Error("a slope that is not known gave a number")
	}
}

// Noise behind a Gaussian filter keeps its standard deviation and reach: the
// variance of a mean of n samples is reach·σ²/n, 1 + 2Σρ = 2√π·s for a standard
// deviation of s samples (derived).
func TestGrain(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	y := make([]float64, 4096)
	for k := range y {
		y[k] = 5 * rng.NormFloat64()
	}
	if g := grainOf(y); math.Abs(g.sigma/5-1) > 0.05 || g.reach > 1.2 {
		t.Errorf("white noise: %+v", g)
	}
	const s = 2.0
	f, err := filters.Gaussian(math.Sqrt(math.Ln2)/(2*math.Pi*s), 1)
	if err != nil {
		t.Fatal(err)
	}
	slow, err := f.Apply(y)
	if err != nil {
		t.Fatal(err)
	}
	g := grainOf(slow)
	if want := 2 * math.Sqrt(math.Pi) * s; math.Abs(g.reach/want-1) > 0.2 {
		t.Errorf("filtered noise: reach %.3g, want %.3g", g.reach, want)
	}
	if want := 5 / math.Sqrt(2*math.Sqrt(math.Pi)*s); math.Abs(g.sigma/want-1) > 0.1 {
		t.Errorf("filtered noise: σ %.3g, want %.3g", g.sigma, want)
	}
}

package uncertainty_test

import (
	"math"
	"math/rand/v2"
	"runtime"
	"testing"

	"slewbook/dpt/result"
	"slewbook/dpt/uncertainty"
)

func run(t *testing.T, trial uncertainty.Trial) result.MonteCarlo {
	t.Helper()
	m := uncertainty.Simulation{Seed: 1, Tolerance: 0.2, Most: 400_000}.Run(1, func() uncertainty.Trial { return trial })[0]
	if m.Trials < 20_000 || m.Lost != 0 {
		t.Errorf("%d trials, %d lost", m.Trials, m.Lost)
	}
	return m
}

func rect(rng *rand.Rand, low, high float64) float64 { return low + (high-low)*rng.Float64() }

// The additive model of four inputs with u = 1 (JCGM 101, 9.2, from memory): u = 2;
// normal ones reach as far as 2u, rectangular ones less. The published ± 3.88 of
// those for 95 % follows from the tail d⁴/24 of a sum of four (Irwin and Hall), which
// gives the ends for 95.45 % as well.
func TestAdditiveModel(t *testing.T) {
	half := func(tail float64) float64 { return (2 - math.Pow(24*tail, 0.25)) * 2 * math.Sqrt(3) }
	near(t, "published, 95 %", half(0.025), 3.88, 0.005)
	for _, c := range []struct {
		name string
		draw func(*rand.Rand) float64
		half float64
	}{
		{"normal", (*rand.Rand).NormFloat64, 4},
		{"rectangular", func(rng *rand.Rand) float64 { return rect(rng, -math.Sqrt(3), math.Sqrt(3)) }, half((1 - uncertainty.Coverage) / 2)},
	} {
		m := run(t, func(rng *rand.Rand, out []float64) {
			out[0] = c.draw(rng) + c.draw(rng) + c.draw(rng) + c.draw(rng)
		})
		near(t, c.name+": u", m.U, 2, 0.02)
		near(t, c.name+": low", m.Low, -c.half, 0.05)
		near(t, c.name+": high", m.High, c.half, 0.05)
		near(t, c.name+": width of the shortest", m.ShortHigh-m.ShortLow, 2*c.half, 0.1)
		near(t, c.name+": tolerance", m.Tolerance, 0.5, 0)
		if !m.Settled || !uncertainty.Agrees(0, 2, m) || uncertainty.Agrees(0, 3, m) {
			t.Errorf("%s: settled %t, agrees with u = 2 %t, with u = 3 %t", c.name, m.Settled, uncertainty.Agrees(0, 2, m), uncertainty.Agrees(0, 3, m))
		}
	}
}

// Calibration of a mass of 100 g (JCGM 101, 9.3, from memory): the law of propagation
// gives 1.234 mg with u = 0.054 mg and misses what the densities do, since their
// sensitivities are zero at the estimates; the trials give 1.234 mg and 0.075 mg. So
// the budget is not validated.
func TestMassCalibration(t *testing.T) {
	m := run(t, func(rng *rand.Rand, out []float64) {
		mass, diff := 100_000+0.05*rng.NormFloat64(), 1.234+0.02*rng.NormFloat64()
		air, weight, reference := rect(rng, 1.1, 1.3), rect(rng, 7000, 9000), rect(rng, 7950, 8050)
		out[0] = (mass+diff)*(1+(air-1.2)*(1/weight-1/reference)) - 100_000
	})
	near(t, "mean", m.Mean, 1.234, 0.002)
	near(t, "u", m.U, 0.075, 0.001)
	if law := uncertainty.Total([]result.Contribution{{Effect: 0.05}, {Effect: 0.02}}); uncertainty.Agrees(1.234, law, m) || math.Abs(law-0.054) > 5e-4 {
		t.Errorf("the law of propagation, u = %g, agrees with %+v", law, m)
	}
}

// Comparison loss of two reflection coefficients at zero (JCGM 101, 9.4, from memory):
// Y = X1² + X2² with u = 0.005 has mean and u of 50·10⁻⁶; the law of propagation has
// none. At 0.050 it has 500·10⁻⁶ and the trials 502·10⁻⁶, about 2550·10⁻⁶. The
// shortest interval begins at zero.
func TestComparisonLoss(t *testing.T) {
	loss := func(x float64) result.MonteCarlo {
		return run(t, func(rng *rand.Rand, out []float64) {
			a, b := x+0.005*rng.NormFloat64(), 0.005*rng.NormFloat64()
			out[0] = 1e6 * (a*a + b*b)
		})
	}
	zero, far := loss(0), loss(0.05)
	near(t, "mean at 0", zero.Mean, 50, 0.5)
	near(t, "u at 0", zero.U, 50, 1)
	near(t, "shortest at 0", zero.ShortLow, 0, 1)
	near(t, "u at 0.05", far.U, 502, 5)
	near(t, "mean at 0.05", far.Mean, 2550, 5)
}

// End gauge (JCGM 100, H.1, from memory): standard 25 nm, comparison 9.7 nm, difference
// of the temperatures 16.6 nm and of the expansions 2.9 nm make 32 nm; with the terms
// of second order, which the trials have, 34 nm.
func TestEndGauge(t *testing.T) {
	near(t, "first order", uncertainty.Total([]result.Contribution{{Effect: 25}, {Effect: 9.7}, {Effect: 2.9}, {Effect: 16.6}}), 32, 0.5)
	const length = 50e6 // [nm]
	m := run(t, func(rng *rand.Rand, out []float64) {
		standard, compared := 623+25*rng.NormFloat64(), 215+9.7*rng.NormFloat64()
		expansion, differs := rect(rng, 9.5e-6, 13.5e-6), rect(rng, -1e-6, 1e-6)
		temperature := -0.1 + 0.2*rng.NormFloat64() + 0.5*math.Sin(2*math.Pi*rng.Float64())
		out[0] = standard + compared - length*(differs*temperature+expansion*rect(rng, -0.05, 0.05))
	})
	near(t, "mean", m.Mean, 838, 0.5)
	near(t, "second order", m.U, 34, 0.5)
}

// Resistance and reactance from voltage, current and phase that are read together
// five times (JCGM 100, H.2, readings from memory): their correlations of -0.36, 0.86
// and -0.65, as independent inputs that the readings have in common and that are summed
// with their signs, give u(R) = 0.071 Ω, u(X) = 0.295 Ω and u(Z) = 0.236 Ω.
func TestCorrelatedReadings(t *testing.T) {
	readings := [3][5]float64{{5.007, 4.994, 5.005, 4.990, 4.999}, {19.663e-3, 19.639e-3, 19.640e-3, 19.685e-3, 19.678e-3}, {1.0456, 1.0438, 1.0468, 1.0428, 1.0433}}
	mean := func(k int) float64 {
		sum := 0.0
		for _, x := range readings[k] {
			sum += x / 5
		}
		return sum
	}
	covariance := func(a, b int) float64 { // of the means
		sum := 0.0
		for n := range 5 {
			sum += (readings[a][n] - mean(a)) * (readings[b][n] - mean(b)) / 20
		}
		return sum
	}
	v, i, phi := mean(0), mean(1), mean(2)
	uv, ui, uphi := math.Sqrt(covariance(0, 0)), math.Sqrt(covariance(1, 1)), math.Sqrt(covariance(2, 2))
	rvi, rvp, rip := covariance(0, 1)/uv/ui, covariance(0, 2)/uv/uphi, covariance(1, 2)/ui/uphi
	near(t, "r(V, I)", rvi, -0.36, 0.005)
	near(t, "r(V, phi)", rvp, 0.86, 0.005)
	near(t, "r(I, phi)", rip, -0.65, 0.005)
	// Columns of the Cholesky factor of the correlations.
	l22 := math.Sqrt(1 - rvi*rvi)
	l32 := (rip - rvp*rvi) / l22
	l33 := math.Sqrt(1 - rvp*rvp - l32*l32)
	read := func(u float64, parts ...float64) []result.Contribution {
		var lines []result.Contribution
		for k, p := range parts {
			lines = append(lines, line(string(rune('a'+k)), u*p, result.OfShot))
		}
		return lines
	}
	budgets := [][]result.Contribution{read(uv, 1), read(ui, rvi, l22), read(uphi, rvp, l32, l33)}
	of := func(derivatives ...float64) float64 {
		var terms []uncertainty.Term
		for k, d := range derivatives {
			terms = append(terms, uncertainty.Term{Factor: d, Budget: budgets[k]})
		}
		return uncertainty.Total(uncertainty.Sum(terms...))
	}
	z := v / i
	near(t, "u(R)", of(math.Cos(phi)/i, -z*math.Cos(phi)/i, -z*math.Sin(phi)), 0.071, 0.0005)
	near(t, "u(X)", of(math.Sin(phi)/i, -z*math.Sin(phi)/i, z*math.Cos(phi)), 0.295, 0.0006)
	near(t, "u(Z)", of(1/i, -z/i, 0), 0.236, 0.0006)
}

// The same seed gives the same bits, whatever the number of processors; another seed
// does not. Trials without a value are counted, and one batch settles nothing.
func TestSeed(t *testing.T) {
	trials := func(seed uint64) result.MonteCarlo {
		s := uncertainty.Simulation{Seed: seed, Tolerance: 1, Most: 10_000}
		return s.Run(1, func() uncertainty.Trial {
			return func(rng *rand.Rand, out []float64) {
				out[0] = rng.NormFloat64()
				if out[0] > 2 {
					out[0] = math.NaN()
				}
			}
		})[0]
	}
	first := trials(7)
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(1))
	if again := trials(7); again != first {
		t.Errorf("on one processor %+v, on all %+v", again, first)
	}
	if trials(8).U == first.U {
		t.Error("another seed gives the same trials")
	}
	near(t, "lost above two standard deviations", float64(first.Lost), 227.5, 50)
	if first.Settled || uncertainty.Agrees(first.Mean, first.U, first) {
		t.Errorf("one batch has settled: %+v", first)
	}
}

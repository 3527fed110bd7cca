package dpt

import (
	"math"

	"slewbook/dpt/result"
	"slewbook/waveform"
)

// grain is the noise of a channel: what is random from sample to sample.
type grain struct {
	sigma float64 // standard deviation of one sample, quantisation included [unit of the channel]
	reach float64 // samples that vary as one: 1 for white noise, more behind a filter
	step  float64 // of the converter, as the samples show it; 0 where they show none
}

// stillSteps is what the steps of the converter leave open of a fitted line, continued by
// so many of its lengths from the middle, where its samples are too still for the steps to
// average out; else 0 [unit of the channel].
func (g grain) stillSteps(line waveform.Line, far float64) float64 {
	if line.Residual < g.step {
		return g.step * (0.5 + math.Abs(far))
	}
	return 0
}

// Stretches that a grain is read from.
const (
	minGrain = 64   // samples, at least
	maxGrain = 4096 // and at most
	farGrain = 64   // samples over which noise may be correlated
)

// grains reads the noise of every channel: of vds and vgs in the stays that they
// rest in, of id where its zero was read.
func (r *record) grains(zero state, method waveform.LevelMethod) map[result.Role]grain {
	all := map[result.Role]grain{result.Id: grainIn(r.i, zero.over)}
	var quiet []waveform.Interval
	for k := range len(r.events) + 1 {
		quiet = append(quiet, r.rest(r.v, k, r.vHigh-r.vLow, method).over)
	}
	all[result.Vds] = grainIn(r.v, quiet...)
	if r.g != nil {
		for k := range quiet {
			quiet[k] = r.rest(r.g, k, r.gHigh-r.gLow, method).over
		}
		all[result.Vgs] = grainIn(r.g, quiet...)
	}
	for role, tr := range r.other {
		all[role] = grainIn(tr)
	}
	return all
}

// grainIn reads the noise of a trace in the quietest of some stretches, since
// ringing adds to it and nothing takes away. Without one that is long enough it is
// that of the second differences, which see white noise only.
func grainIn(tr *waveform.Trace, quiet ...waveform.Interval) grain {
	quantum := waveform.Quantum(tr.Y)
	step := quantum / math.Sqrt(12)
	best := grain{sigma: math.NaN()}
	for _, iv := range quiet {
		if !(iv.Duration() > 0) {
			continue
		}
		y := tr.Samples(iv)
		if len(y) < minGrain {
			continue
		}
		if g := grainOf(y[max(0, len(y)-maxGrain):]); !(g.sigma >= best.sigma) {
			best = g
		}
	}
	if math.IsNaN(best.sigma) {
		return grain{math.Hypot(pointNoise(tr.Y), step), 1, quantum}
	}
	// Between two codes a small noise does not show.
	best.sigma, best.step = max(best.sigma, step), quantum
	return best
}

// summed is the standard deviation of one sample as it counts in a sum or a mean
// of many.
func (g grain) summed() float64 { return g.sigma * math.Sqrt(g.reach) }

// line is the standard deviation of the slope of a line through n samples.
func (g grain) line(n int, dt float64) float64 {
	return g.summed() * math.Sqrt(12) / (math.Pow(float64(n), 1.5) * dt)
}

// grainOf reads the noise of samples about their straight line.
func grainOf(samples []float64) grain {
	y := append([]float64(nil), samples...)
	detrend(y, true)
	n := float64(len(y))
	power := dot(y, y) / n
	g := grain{sigma: math.Sqrt(power), reach: 1}
	for lag := 1; lag <= min(farGrain, len(y)/4) && power > 0; lag++ {
		rho := dot(y[lag:], y[:len(y)-lag]) / n / power
		if rho < 2/math.Sqrt(n) { // what is left is chance
			break
		}
		g.reach += 2 * rho
	}
	return g
}

// apart is how many samples lie between two that count as independent where the
// first or the largest is chosen: noise with a Gaussian spectrum passes a level of
// three standard deviations as often as independent values a third of its reach
// apart do (Rice's formula, from memory).
func (g grain) apart() float64 { return max(g.reach/3, 1) }

// passage is what noise does to the instant at which a signal of a slope [unit/s]
// first passes a level: by how much it is passed too early on average (negative),
// and the standard deviation [s]. Where the signal gains less than its noise from
// one independent sample to the next, the first of many samples that happens to
// lie beyond the level counts.
func (g grain) passage(slope, dt float64) (early, spread float64) {
	slope = math.Abs(slope)
	if math.IsNaN(slope) {
		return math.NaN(), math.NaN()
	}
	apart := g.apart() * dt
	r := g.sigma / (slope * apart) // noise in steps of the signal
	if r > maxGrain {              // as good as flat: it is passed anywhere
		return math.Inf(-1), math.Inf(1)
	}
	// The straight line between two samples averages their noise: the variance
	// is less by 2f(1 - f)(1 - ρ) at the fraction f, a third of 1 - ρ on average.
	rho := (g.reach - 1) / (g.reach + 1)
	spread = g.sigma / slope * math.Sqrt(1-(1-rho)/3)
	if r < 0.3 {
		return 0, spread
	}
	const phases = 4
	var m1, m2 float64
	for p := range phases {
		left := 1 / float64(phases) // chance that no sample was beyond the level so far
		for x := math.Ceil(-6*r) + (float64(p)+0.5)/phases; left > 1e-9; x++ {
			hit := left * 0.5 * math.Erfc(-x/(r*math.Sqrt2))
			m1 += hit * (x - 0.5)
			m2 += hit * (x - 0.5) * (x - 0.5)
			left -= hit
		}
	}
	early = min(m1, 0) * apart
	if r > 1 {
		spread = math.Sqrt(m2-m1*m1) * apart
	}
	return early, spread
}

// largest is by how much the largest of n samples that differ by noise alone lies
// above their level on average, and its standard deviation: Φ⁻¹((n - ⅜)/(n + ¼))
// (Blom 1958, from memory) and 1/√(1 + ln n), which is right to a tenth up to 10⁴
// (against tables of order statistics, from memory).
func (g grain) largest(n int) (above, spread float64) {
	k := max(float64(n)/g.apart(), 1)
	p := (k - 0.375) / (k + 0.25)
	return g.sigma * math.Sqrt2 * math.Erfinv(2*p-1), g.sigma / math.Sqrt(1+math.Log(k))
}

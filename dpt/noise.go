package dpt

import (
	"math"
	"math/rand/v2"

	"slewbook/dpt/result"
	"slewbook/waveform"
	"slewbook/waveform/unit"
)

const noiseSource = "noise and bits"

// sigma is the standard deviation of one sample: noise and quantisation.
func sigma(tr *waveform.Trace) float64 {
	return math.Hypot(pointNoise(tr.Y), waveform.Quantum(tr.Y)/math.Sqrt(12))
}

// local returns slope and curvature of a trace at t. The slope is taken over as
// many samples as it needs to stand out of noise and quantisation, the curvature
// from the four samples around t.
func local(tr *waveform.Trace, t, sigma float64) (slope, curvature float64) {
	k := int(tr.Pos(t))
	if k < 1 || k+2 >= len(tr.Y) {
		return math.NaN(), math.NaN()
	}
	enough := 6 * sigma
	for h := 0; k-h >= 0 && k+1+h < len(tr.Y); h++ {
		rise := tr.Y[k+1+h] - tr.Y[k-h]
		slope = rise / (float64(2*h+1) * tr.Dt)
		if h > 0 && math.Abs(rise) >= enough {
			break
		}
	}
	y := tr.Y[k-1 : k+3]
	return slope, (y[0] - y[1] - y[2] + y[3]) / (2 * tr.Dt * tr.Dt)
}

// atEnds combines, for a reading between two levels, what an error of the
// instants at its ends does: on a time it is that, on an average slope relative
// to the time, on an energy the power there.
func (e *edge) atEnds(q reading, instant func(tr *waveform.Trace, t, sigma float64) float64) float64 {
	if len(q.ends) != 2 || !(q.over.Duration() > 0) {
		return 0
	}
	sum := 0.0
	for k, t := range []float64{q.over.From, q.over.To} {
		tr, _ := e.trace(q.ends[k].Signal)
		if tr == nil {
			return 0
		}
		dt := instant(tr, t, e.sigma[q.ends[k].Signal])
		if q.form == energyForm {
			dt *= e.v.At(t) * e.i.At(t)
		}
		sum += dt * dt
	}
	u := math.Sqrt(sum)
	if q.form == slopeForm {
		u *= q.value / q.over.Duration()
	}
	return u
}

// noiseOf is what noise and quantisation do to a reading: by what it is read as,
// or as reading it again with noise has shown.
func (e *edge) noiseOf(q reading, again float64) float64 {
	instants := func() float64 {
		return e.atEnds(q, func(tr *waveform.Trace, t, sigma float64) float64 {
			slope, _ := local(tr, t, sigma)
			return sigma / math.Abs(slope)
		})
	}
	if q.noise > 0 {
		return q.noise
	}
	if len(q.of) > 0 {
		return q.shared(func(p reading) float64 { return e.noiseOf(p, 0) })
	}
	sigma := e.sigma[q.role]
	switch q.form {
	case levelForm:
		return 0
	case timeForm, slopeForm:
		return instants()
	case extremeForm:
		return sigma * q.factor()
	case fitForm:
		return lineNoise(sigma, q.fitted, e.v.Dt)
	case energyForm:
		// √Σ(i²σv² + v²σi²)·dt over the window.
		sum, sv, si := 0.0, e.sigma[result.Vds], e.sigma[result.Id]
		lo, hi := e.i.Indices(q.over)
		for k := lo; k < hi; k++ {
			v := e.v.At(e.i.Time(k))
			sum += e.i.Y[k]*e.i.Y[k]*sv*sv + v*v*si*si
		}
		return math.Hypot(instants(), math.Sqrt(sum)*e.i.Dt)
	}
	return again
}

// lineNoise is the standard deviation of the slope of a line through n samples.
func lineNoise(sigma float64, n int, dt float64) float64 {
	return sigma * math.Sqrt(12) / (math.Pow(float64(n), 1.5) * dt)
}

// factor is what one unit of what was read is in the value.
func (q reading) factor() float64 {
	if q.per == 0 {
		return 1
	}
	return math.Abs(q.per)
}

// noisy is how often an edge is read again with noise added, which gives a
// standard deviation to a fifth of it.
const noisy = 12

// readNoisy reads the edge again with as much noise added as there is, for those
// readings that do not say what they are read as, and returns by how much each
// changes (root mean square). The noise is the same every time.
func (m *measurer) readNoisy(e *edge, read map[string]reading) map[string]float64 {
	again := map[string]float64{}
	for key, q := range read {
		if q.form == someForm && !(q.noise > 0) && !math.IsNaN(q.value) {
			again[key] = 0
		}
	}
	if len(again) == 0 {
		return again
	}
	rng := rand.New(rand.NewPCG(1, uint64(e.index)))
	count := map[string]float64{}
	for range noisy {
		n := e.copy()
		n.v, n.i, n.g = withNoise(n.v, e.sigma[result.Vds], rng), withNoise(n.i, e.sigma[result.Id], rng), withNoise(n.g, e.sigma[result.Vgs], rng)
		got := m.readEdge(n, true)
		for key := range again {
			if d := got[key].value - read[key].value; d == d {
				again[key] += d * d
				count[key]++
			}
		}
	}
	for key := range again {
		again[key] = math.Sqrt(again[key] / max(count[key], 1))
	}
	return again
}

// withNoise returns the trace with normal noise added.
func withNoise(tr *waveform.Trace, sigma float64, rng *rand.Rand) *waveform.Trace {
	if tr == nil {
		return nil
	}
	out := change(tr, 1, 0)
	for k := range out.Y {
		out.Y[k] += sigma * rng.NormFloat64()
	}
	return out
}

// samplingOf is what the distance of the samples does. A straight line between
// them misses an instant by up to dt²·|y″|/(8·|y′|), and a peak by what the
// parabola through it has more; a line through samples is less steep than the
// steepest part under it.
func (e *edge) samplingOf(q reading) float64 {
	if len(q.of) > 0 {
		return q.shared(e.samplingOf)
	}
	switch q.form {
	case extremeForm:
		tr, _ := e.trace(q.role)
		return missedPeak(tr, q.over.From) * q.factor()
	case fitForm:
		return e.slopeMissed(q) / math.Sqrt(3)
	case timeForm, slopeForm, energyForm:
	default:
		return q.shifted()
	}
	u := e.atEnds(q, func(tr *waveform.Trace, t, sigma float64) float64 {
		slope, curvature := local(tr, t, sigma)
		return tr.Dt * tr.Dt * math.Abs(curvature/slope) / 8 / math.Sqrt(3)
	})
	if q.form == energyForm {
		// What the trapezoid rule would have less.
		u = math.Hypot(u, math.Abs(e.overlap(q.over))*e.i.Dt*e.i.Dt/6/math.Sqrt(3))
	}
	return u
}

// overlap returns ∫ v′i′ dt over iv [W/s]: nothing where one of them stands still
// while the other moves.
func (e *edge) overlap(iv waveform.Interval) float64 {
	sum := 0.0
	lo, hi := e.i.Indices(iv)
	for k := lo; k+1 < hi; k++ {
		sum += (e.v.At(e.i.Time(k+1)) - e.v.At(e.i.Time(k))) * (e.i.Y[k+1] - e.i.Y[k]) / e.i.Dt
	}
	return sum
}

func missedPeak(tr *waveform.Trace, t float64) float64 {
	k := int(math.Round(tr.Pos(t)))
	if k < 1 || k+1 >= len(tr.Y) {
		return math.NaN()
	}
	a, b, c := tr.Y[k-1], tr.Y[k], tr.Y[k+1]
	if !(2*b-a-c > 0) {
		return 0
	}
	return ((a-c)*(a-c)/(16*(2*b-a-c)) + (2*b-a-c)/16) / math.Sqrt(3)
}

// bandwidthOf is what the bandwidth of a channel, which is not corrected, does to
// a transition duration by root-sum-square, to a peak and to an energy: a
// one-sided error of this size.
func (m *measurer) bandwidthOf(e *edge, q reading) float64 {
	switch q.form {
	case extremeForm:
		return m.roundedPeak(e, q) * q.factor()
	case energyForm:
		return m.slowedEnergy(e, q)
	case timeForm, slopeForm:
	default:
		return 0
	}
	if len(q.ends) != 2 || q.ends[0].Signal != q.ends[1].Signal || !(q.over.Duration() > 0) {
		return 0
	}
	own := waveform.OwnRise(q.over.Duration(), m.systemRise(e, q.ends[0].Signal))
	if math.IsNaN(own) {
		return math.Abs(q.value)
	}
	return math.Abs(q.value) * (q.over.Duration()/own - 1) / math.Sqrt(3)
}

// slowedEnergy is what the bandwidths do to an energy: Gaussian channels of
// standard deviations s1 and s2 change it by -½(s1² + s2²)·∫ v′i′ dt: 6σ²/t² of a
// resistive commutation (trade-facts 4, derived).
func (m *measurer) slowedEnergy(e *edge, q reading) float64 {
	s1, s2 := m.systemRise(e, result.Vds)/2.5631, m.systemRise(e, result.Id)/2.5631
	return math.Abs(e.overlap(q.over)) * (s1*s1 + s2*s2) / 2 / math.Sqrt(3)
}

// roundedPeak is what the bandwidth takes off a peak: a Gaussian of standard
// deviation s lowers a parabola of curvature y″ by |y″|·s²/2.
func (m *measurer) roundedPeak(e *edge, q reading) float64 {
	tr, _ := e.trace(q.role)
	s := m.systemRise(e, q.role) / 2.5631
	h, t := max(s, tr.Dt), q.over.From
	curvature := (tr.At(t-h) - 2*tr.At(t) + tr.At(t+h)) / (h * h)
	if !(curvature < 0) {
		return 0
	}
	return -curvature * s * s / 2 / math.Sqrt(3)
}

// systemRise returns the 10-90 % duration that the channel itself gives a step:
// from its bandwidth where that is known. Else that is assumed, but not so low
// that the fastest edge seen could not have passed.
func (m *measurer) systemRise(e *edge, role result.Role) float64 {
	if bw := e.bandwidth[role]; bw > 0 {
		return waveform.SystemRise(bw)
	}
	m.assume("bandwidth of %s at least %s", role, unit.Format(defaultBandwidth, "Hz", 3))
	rise := waveform.SystemRise(defaultBandwidth)
	tr, _ := e.trace(role)
	for key, q := range m.read {
		if role == result.Vds && (key == "t_rise_v" || key == "t_fall_v") || role == result.Id && (key == "t_rise_i" || key == "t_fall_i") {
			if q.value > 0 {
				rise = min(rise, q.value/2)
			}
		}
	}
	return max(rise, 0.5*tr.Dt)
}

// shared combines what an effect is on each of the readings that a reading is
// computed from.
func (q reading) shared(effect func(reading) float64) float64 {
	sum := 0.0
	for _, p := range q.of {
		x := p.weight * effect(p.reading)
		sum += x * x
	}
	return math.Sqrt(sum)
}

// shifted is what the distance of the samples does to the instants that a reading was
// read from.
func (q reading) shifted() float64 {
	sum := 0.0
	for _, p := range q.passed {
		slope, curvature := local(p.tr, p.t, 0)
		x := p.weight * p.tr.Dt * p.tr.Dt / 8 * curvature / slope
		sum += x * x
	}
	return math.Sqrt(sum / 3)
}

// slopeMissed is by how much a line through samples is less steep than the steepest
// part under it, from lines beside it, which are less steep by a drop: a twentieth of
// that where the slope bends alike on both sides (y‴·(n·dt)²/40), half of it where the
// steepest part is beside a kink.
func (e *edge) slopeMissed(q reading) float64 {
	tr, _ := e.trace(q.role)
	length, t := float64(q.fitted)*tr.Dt, (q.over.From+q.over.To)/2
	slope := func(t float64) float64 {
		return waveform.FitLine(tr, waveform.Interval{From: t - length/2, To: t + length/2}).Slope
	}
	at := slope(t)
	before, after := (at-slope(t-length))*math.Copysign(1, at), (at-slope(t+length))*math.Copysign(1, at)
	switch small, large := min(before, after), max(before, after); {
	case math.IsNaN(small):
		return 0
	case small <= 0: // no steepest part
		return math.Abs(before+after) / 40
	default:
		return small * (0.05 + 0.45*(1-small/large))
	}
}

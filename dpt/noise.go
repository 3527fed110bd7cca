package dpt

import (
	"math"
	"math/rand/v2"

	"slewbook/dpt/result"
	"slewbook/waveform"
	"slewbook/waveform/unit"
)

// Budget lines of noise: what it scatters, and what it does one way, since the
// first sample beyond a level and the largest of several are chosen by it.
const (
	noiseSource  = "noise and bits"
	chosenSource = "first or largest of noisy samples"
)

// local returns slope and curvature of a trace at t. The slope is that of a line fitted
// to as many samples on either side as it needs to stand out of noise and quantisation:
// between two samples it would be the steeper the more their noise says so, since the
// first that rises enough counts. The curvature is from the four samples around t.
func local(tr *waveform.Trace, t, sigma float64) (slope, curvature float64) {
	k := int(tr.Pos(t))
	if k < 1 || k+2 >= len(tr.Y) {
		return math.NaN(), math.NaN()
	}
	enough, sum, squares := 6*sigma, 0.0, 0.0
	for h := 0; k-h >= 0 && k+1+h < len(tr.Y); h++ {
		far := float64(h) + 0.5
		sum += far * (tr.Y[k+1+h] - tr.Y[k-h])
		squares += 2 * far * far
		slope = sum / squares / tr.Dt
		if h > 0 && math.Abs(slope)*2*far*tr.Dt >= enough {
			break
		}
	}
	y := tr.Y[k-1 : k+3]
	return slope, (y[0] - y[1] - y[2] + y[3]) / (2 * tr.Dt * tr.Dt)
}

// doubt is what an effect does to a value: a shift that is known to lie between
// nothing and this, and a standard deviation.
type doubt struct {
	shift, spread float64
}

// atEnds combines, for a reading between two levels, what an effect on the
// instants at its ends does: on a time it is that, on an average slope relative
// to the time, on an energy the power there, or the mean of it up to the instant without
// the shift: the sample that passed a level first is lower than what it was taken from.
func (e *edge) atEnds(q reading, instant func(tr *waveform.Trace, t float64, g grain) doubt) doubt {
	if len(q.ends) != 2 || !(q.over.Duration() > 0) {
		return doubt{}
	}
	var all doubt
	for k, t := range []float64{q.over.From, q.over.To} {
		role := q.ends[k].Signal
		tr, _ := e.trace(role)
		if tr == nil {
			return doubt{}
		}
		weight, d := float64(2*k-1), instant(tr, t, e.grain[role])
		if q.form == energyForm {
			weight *= e.powerTo(t, t-d.shift)
		}
		all = all.plus(weight, d)
	}
	if q.form == slopeForm {
		return doubt{}.plus(-q.value/q.over.Duration(), all)
	}
	return all
}

// powerTo returns the mean of v·i between two instants [W].
func (e *edge) powerTo(t, to float64) float64 {
	iv := waveform.Interval{From: min(t, to), To: max(t, to)}
	if p := waveform.ProductIntegral(e.v, e.i, iv) / iv.Duration(); !notFinite(p) {
		return p
	}
	return e.v.At(t) * e.i.At(t)
}

// plus adds another doubt with a weight: shifts as they are, spreads as squares.
func (d doubt) plus(weight float64, other doubt) doubt {
	return doubt{d.shift + weight*other.shift, math.Hypot(d.spread, weight*other.spread)}
}

// noiseOf is what noise and quantisation do to a reading: by what it is read as,
// or as reading it again with noise has shown.
func (e *edge) noiseOf(q reading, again float64) doubt {
	g := e.grain[q.role]
	switch {
	case q.noise > 0:
		return doubt{0, q.noise}
	case len(q.of) > 0:
		return q.shared(func(p reading) doubt { return e.noiseOf(p, 0) })
	}
	switch q.form {
	case levelForm:
		return doubt{}
	case extremeForm:
		tr, _ := e.trace(q.role)
		return doubt{}.plus(q.factor(), g.among(tr, q, 1))
	case fitForm:
		return doubt{0, g.line(q.fitted, e.v.Dt)}
	case timeForm, slopeForm, energyForm:
		d := e.atEnds(q, func(tr *waveform.Trace, t float64, g grain) doubt {
			slope, _ := local(tr, t, g.sigma)
			early, spread := g.passage(slope, tr.Dt)
			return doubt{early, spread}
		})
		if q.form == energyForm {
			d.spread = math.Hypot(d.spread, e.energyNoise(q.over))
		}
		return d
	}
	return doubt{0, again}
}

// energyNoise is what noise does to the integral of v·i over iv,
// √Σ(i²σv² + v²σi²)·dt.
func (e *edge) energyNoise(iv waveform.Interval) float64 {
	sum, sv, si := 0.0, e.grain[result.Vds].summed(), e.grain[result.Id].summed()
	lo, hi := e.i.Indices(iv)
	for k := lo; k < hi; k++ {
		v := e.v.At(e.i.Time(k))
		sum += e.i.Y[k]*e.i.Y[k]*sv*sv + v*v*si*si
	}
	return math.Sqrt(sum) * e.i.Dt
}

// among is what noise does to an extreme, the largest (way 1) or smallest (way -1)
// of the samples where the reading looked: those within two standard deviations
// of it compete.
func (g grain) among(tr *waveform.Trace, q reading, way float64) doubt {
	n, least := 0, way*tr.At(q.over.From)-2*g.sigma
	for _, y := range tr.Samples(q.looked) {
		if way*y >= least {
			n++
		}
	}
	above, spread := g.largest(n)
	return doubt{way * above, spread}
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
		if q.form == someForm && !(q.noise > 0) && len(q.of) == 0 && !math.IsNaN(q.value) {
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
		n.v, n.i, n.g = withNoise(n.v, e.grain[result.Vds].sigma, rng), withNoise(n.i, e.grain[result.Id].sigma, rng), withNoise(n.g, e.grain[result.Vgs].sigma, rng)
		got := m.readEdge(n)
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
// them misses an instant by up to dt²·|y″|/(8·|y′|), and a peak by what lies between
// them; a line through samples is less steep than the steepest part under it.
func (e *edge) samplingOf(q reading) float64 {
	if len(q.of) > 0 {
		return q.shared(func(p reading) doubt { return doubt{0, e.samplingOf(p)} }).spread
	}
	switch q.form {
	case extremeForm:
		tr, _ := e.trace(q.role)
		return missedPeak(tr, q.over.From, e.grain[q.role].sigma) * q.factor()
	case fitForm:
		return e.slopeMissed(q) / math.Sqrt(3)
	case timeForm, slopeForm, energyForm:
	default:
		return math.Hypot(q.shifted(), q.missed)
	}
	u := e.atEnds(q, func(tr *waveform.Trace, t float64, g grain) doubt {
		slope, curvature := local(tr, t, g.sigma)
		return doubt{0, tr.Dt * tr.Dt * math.Abs(curvature/slope) / 8 / math.Sqrt(3)}
	}).spread
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

// missedPeak is what the largest sample, at t, may have missed of a peak. From a peak that
// bends one way the signal stays below the lines through the two samples on either side,
// drawn on to where they meet, between the sample and one of its neighbours: any value up
// to there is as likely as another. A peak that bends back within two samples is taken for
// a triangle. What noise of standard deviation sigma explains is nothing missed.
func missedPeak(tr *waveform.Trace, t, sigma float64) float64 {
	k := int(math.Round(tr.Pos(t)))
	if k < 1 || k+1 >= len(tr.Y) {
		return math.NaN()
	}
	triangle := (2*tr.Y[k] - tr.Y[k-1] - tr.Y[k+1]) / 4
	missed := max(meet(tr.Y, k, triangle), meet(tr.Y, k-1, triangle))
	return math.Sqrt(max(missed*missed-4*sigma*sigma, 0) / 3)
}

// meet is how far, between sample k and the next, the lines through the two samples before
// and behind meet above both; narrow where they do not.
func meet(y []float64, k int, narrow float64) float64 {
	if k < 1 || k+2 >= len(y) {
		return narrow
	}
	up, down := y[k]-y[k-1], y[k+1]-y[k+2]
	if !(up > 0 && down > 0) {
		return narrow
	}
	x := (y[k+1] - y[k] + down) / (up + down)
	if !(x >= 0 && x <= 1) {
		return narrow
	}
	return y[k] + up*x - max(y[k], y[k+1])
}

// bandwidthOf is what the bandwidth of a channel, which is not corrected, does to
// a transition duration by root-sum-square, to a peak, to an energy and to the time
// between two channels: a one-sided error of this size.
func (m *measurer) bandwidthOf(e *edge, q reading) float64 {
	if q.form == extremeForm {
		return m.roundedPeak(e, q) * q.factor()
	}
	if len(q.ends) != 2 || !(q.over.Duration() > 0) {
		return 0
	}
	known := m.oneSided(e, q.ends[0].Signal, q.ends[1].Signal)
	apart := math.Abs(m.slowedEnds(e, q)) * known
	switch {
	case q.form == energyForm:
		return math.Hypot(m.slowedEnergy(e, q), apart)
	case q.form != timeForm && q.form != slopeForm:
		return 0
	case q.ends[0].Signal != q.ends[1].Signal:
		return apart
	}
	own := waveform.OwnRise(q.over.Duration(), m.systemRise(e, q.ends[0].Signal))
	if math.IsNaN(own) {
		return math.Abs(q.value)
	}
	// Corners beside the levels slow an edge by more than its length tells.
	return max(apart, math.Abs(q.value)*(q.over.Duration()/own-1)*known)
}

// oneSided is the part that an error to one side counts with: the whole of it, where
// the bandwidths are known, since it is there and was left in (JCGM 100, F.2.4.5, from
// memory); where one is assumed, a value between none and all of it, 1/√3.
func (m *measurer) oneSided(e *edge, roles ...result.Role) float64 {
	for _, role := range roles {
		if !(e.bandwidth[role] > 0) {
			return 1 / math.Sqrt(3)
		}
	}
	return 1
}

// slowedEnds is what the bandwidths do to the instants at the ends of a reading: a
// Gaussian of standard deviation s adds s²/2·y″ to a signal, which moves where it
// passes a level by -s²/2·y″/y′, and by no more than s.
func (m *measurer) slowedEnds(e *edge, q reading) float64 {
	at := 0
	return e.atEnds(q, func(tr *waveform.Trace, t float64, g grain) doubt {
		s := m.systemRise(e, q.ends[at].Signal) / 2.5631
		at++
		h := max(s, 2*tr.Dt)
		low, mid, high := tr.At(t-h), tr.At(t), tr.At(t+h)
		shift := -s * s / h * (low - 2*mid + high) / (high - low)
		if math.IsNaN(shift) {
			return doubt{}
		}
		return doubt{shift: min(max(shift, -s), s)}
	}).shift
}

// slowedEnergy is what the bandwidths do to an energy: Gaussian channels of
// standard deviations s1 and s2 change it by -½(s1² + s2²)·∫ v′i′ dt: 6σ²/t² of a
// resistive commutation (derived).
func (m *measurer) slowedEnergy(e *edge, q reading) float64 {
	s1, s2 := m.systemRise(e, result.Vds)/2.5631, m.systemRise(e, result.Id)/2.5631
	return math.Abs(e.overlap(q.over)) * (s1*s1 + s2*s2) / 2 * m.oneSided(e, result.Vds, result.Id)
}

// roundedPeak is what the bandwidth takes off a peak. Near it the signal is taken
// for a sine of the peak's height h above the base, whose angular frequency
// follows from how far it has fallen a step beside the peak; a Gaussian of standard
// deviation s lowers such a sine by the factor exp(-ω²s²/2).
func (m *measurer) roundedPeak(e *edge, q reading) float64 {
	tr, _ := e.trace(q.role)
	base := e.bus.level
	if q.role == result.Id {
		base = e.load
	}
	s := m.systemRise(e, q.role) / 2.5631
	step, t := max(s, tr.Dt), q.over.From
	top := tr.At(t)
	fallen := top - (tr.At(t-step)+tr.At(t+step))/2
	height := max(top-base, fallen)
	if !(fallen > 0) {
		return 0
	}
	omega := math.Acos(1-fallen/height) / step
	return height * math.Expm1(omega*omega*s*s/2) * m.oneSided(e, q.role)
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
func (q reading) shared(effect func(reading) doubt) doubt {
	var all doubt
	for _, p := range q.of {
		all = all.plus(p.weight, effect(p.reading))
	}
	return all
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

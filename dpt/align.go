package dpt

import (
	"fmt"
	"math"
	"slices"

	"slewbook/dpt/result"
	"slewbook/dpt/uncertainty"
	"slewbook/filters"
	"slewbook/waveform"
	"slewbook/waveform/unit"
)

const (
	delayMax    = 100e-9 // how far the delay is looked for, either way [s]
	ringCycles  = 12     // cycles of ringing that are looked at
	ringPart    = 0.1    // until it has fallen to this part of its peak
	risePart    = 0.9    // of the load current, up to which the turn-on is looked at
	coarseSteps = 24     // samples a cycle in the first search
	fineSteps   = 48     // and in the last one: half of what both channels are slowed by apart
	rivalMisfit = 10     // minima with up to so many times the least misfit are rivals
	sureLead    = 2      // how many times worse the next one must be, ringing and rise together
	likeL       = 2      // how far apart the inductances of ringing and rise may be
	worstMisfit = 250    // half of the flux is left: the equation does not hold
)

// alignment is what one shot says of the delay of its current channel behind
// the voltage channel, and of the loop.
type alignment struct {
	delay  float64               // [s], NaN if it cannot be told
	u      float64               // standard uncertainty [s]
	lines  []result.Contribution // what u is made of
	l      float64               // loop inductance outside the sense points [H]
	lLines []result.Contribution // what its uncertainty is made of, the gains aside
	ringL  float64               // the same from the ringing alone, which capacitance beside the sensor makes too large [H]
	sure   bool
	beyond bool              // no delay that is looked for fits: it may be any
	reason string            // why it is not sure, or why there is none
	how    string            // what it was read from
	over   waveform.Interval // where
	lOver  waveform.Interval // where the inductance was read
}

// aligner finds the delay of the current channel of one record from the
// ringing after its turn-offs, whose phase gives it finely but a period off as
// well, and from the rise of the current at its turn-ons, which gives it
// coarsely but without doubt.
type aligner struct {
	offs   []*edge
	ons    []*edge
	onset  []waveform.Interval   // of the current at each turn-on: 5 % to most of the load current
	rings  []waveform.Interval   // stretch of ringing after each turn-off
	v, i   *waveform.Trace       // smoothed alike
	volts  []float64             // running integral of v [V·s]
	lost   []int                 // samples of v before each that are over range or missing
	period float64               // of the ringing [s], NaN if there is none
	decay  float64               // of its envelope [1/s]
	form   []result.Contribution // what the forms of the channels' roll-offs leave open of the delay
	dt     float64
}

// align estimates the delay of the current from the shot itself. It reads no
// crossing and no energy: it asks at which delay current and voltage obey the
// loop's equation.
func (r *record) align(method waveform.LevelMethod) alignment {
	a, err := r.newAligner(method)
	if err != nil {
		return alignment{delay: math.NaN(), u: math.NaN(), l: math.NaN(), reason: err.Error()}
	}
	est := a.estimate(0)
	if !est.sure {
		return est
	}
	// A delay put on the same shot must be found again.
	for _, put := range []float64{max(1e-9, a.dt), -max(1e-9, a.dt)} {
		moved := a.estimate(put)
		if !(math.Abs(moved.delay-est.delay-put) <= 2*max(est.u, moved.u)) {
			est.sure = false
			est.reason = fmt.Sprintf("a delay of %+.3g ns put on the shot is found as %+.3g ns", put*1e9, (moved.delay-est.delay)*1e9)
		}
	}
	return est
}

func (r *record) newAligner(method waveform.LevelMethod) (*aligner, error) {
	a := &aligner{period: math.NaN(), decay: math.NaN(), dt: r.v.Dt}
	full := 0.0
	edges := make([]*edge, len(r.events))
	for k := range edges {
		edges[k] = r.newEdge(k, method)
		full = max(full, edges[k].largest())
	}
	for _, e := range edges {
		if e.noLoad(full) != nil || math.IsNaN(e.bus.level) {
			continue
		}
		if e.kind == result.TurnOn {
			if iv, ok := onset(e); ok {
				a.ons = append(a.ons, e)
				a.onset = append(a.onset, iv)
			}
		} else if iv, ok := a.ringing(e); ok {
			a.offs = append(a.offs, e)
			a.rings = append(a.rings, iv)
		}
	}
	a.form = r.rollOff(1 / a.period)
	return a, a.smooth(r)
}

// smooth slows both channels alike, which leaves the loop's equation as it is.
// Without it the noise, which interpolation lowers between the samples, would
// draw the delay there.
func (a *aligner) smooth(r *record) error {
	sigma := 1.5 * a.dt
	if a.period > 0 {
		sigma = max(sigma, a.period/coarseSteps)
	}
	for _, s := range []struct{ from, to **waveform.Trace }{{&r.v, &a.v}, {&r.i, &a.i}} {
		out, err := slowed(*s.from, sigma, a.looked())
		if err != nil {
			return err
		}
		*s.to = out
	}
	a.volts, a.lost = running(a.v)
	for k := range a.onset {
		a.trim(&a.onset[k])
	}
	for _, e := range slices.Concat(a.offs, a.ons) {
		e.v, e.i = a.v, a.i
		e.line.v = a.v
	}
	return nil
}

// trim ends a rise before what is over range or missing once the current is smoothed, as
// of a peak that is clipped, where half of it and more is left.
func (a *aligner) trim(iv *waveform.Interval) {
	const cubic = 2 // samples that interpolation needs beyond an instant
	lo, hi := a.i.Indices(waveform.Interval{From: iv.From, To: iv.To + (cubic+1)*a.i.Dt})
	if k := slices.IndexFunc(a.i.Y[lo:hi], notFinite); k >= 0 {
		if to := a.i.Time(lo + k - cubic - 1); to > (iv.From+iv.To)/2 {
			iv.To = to
		}
	}
}

// looked lists the stretches that are looked at: the ringing and the rise of the current,
// from where its voltage begins, and as far beside them as the delay is looked for.
func (a *aligner) looked() []waveform.Interval {
	var all []waveform.Interval
	beside := delayMax + 2*max(1e-9, a.dt) + 10*a.dt
	if a.period > 0 {
		beside += a.period
	}
	for _, iv := range a.rings {
		all = append(all, waveform.Interval{From: iv.From - beside, To: iv.To + beside})
	}
	for _, iv := range a.onset {
		all = append(all, waveform.Interval{From: iv.From - 2*iv.Duration() - beside, To: iv.To + beside})
	}
	return all
}

// slowed returns a trace behind a Gaussian of standard deviation sigma [s], whose
// bandwidth is √(ln 2)/(2π·sigma), from the first to the last of the given stretches;
// between them it is missing.
func slowed(tr *waveform.Trace, sigma float64, in []waveform.Interval) (*waveform.Trace, error) {
	f, err := filters.Gaussian(math.Sqrt(math.Ln2)/(2*math.Pi*sigma), tr.Dt)
	if err != nil {
		return nil, err
	}
	first, last := len(tr.Y), 0
	for _, iv := range in {
		lo, hi := tr.Indices(iv)
		first, last = min(first, lo), max(last, hi)
	}
	out := *tr
	out.T0, out.Y = tr.Time(first), make([]float64, max(last-first, 0))
	for k := range out.Y {
		out.Y[k] = math.NaN()
	}
	for _, iv := range in {
		lo, hi := tr.Indices(iv)
		from := max(lo-f.Reach, 0)
		y, err := f.Apply(tr.Y[from:min(hi+f.Reach, len(tr.Y))])
		if err != nil {
			return nil, err
		}
		copy(out.Y[lo-first:hi-first], y[lo-from:])
	}
	return &out, nil
}

// ringing returns the stretch after a turn-off from where v first passes the
// bus, so that the freewheeling device has taken over, to where the ringing has
// died down; and notes its period and decay. Where the first half-wave, in which the
// current still falls, drowns the others, the stretch begins behind it.
func (a *aligner) ringing(e *edge) (waveform.Interval, bool) {
	late := part(e.search, 0, 0.5).To
	iv := waveform.Interval{From: waveform.FirstCrossing(e.v, e.bus.level, waveform.Rising, e.search), To: late}
	found, period, ok := ringStretch(e, iv)
	if !ok && found.From < late {
		iv.From = waveform.FirstCrossing(e.v, e.bus.level, waveform.Falling, iv)
		iv.From = waveform.FirstCrossing(e.v, e.bus.level, waveform.Rising, iv)
		found, period, ok = ringStretch(e, iv)
	}
	if ok && math.IsNaN(a.period) {
		a.period = period
		a.decay = max(ringDecay(e.v, e.bus, found), 0)
	}
	return found, ok
}

// ringStretch returns the part of iv in which v rings about the bus, and the period.
func ringStretch(e *edge, iv waveform.Interval) (waveform.Interval, float64, bool) {
	lo, hi := e.v.Indices(iv)
	peak := 0.0
	for _, y := range e.v.Y[lo:hi] {
		peak = max(peak, math.Abs(y-e.bus.level)) // NaN and Inf carry through
	}
	if !(iv.From < iv.To) || !(peak < math.Inf(1)) {
		return iv, math.NaN(), false
	}
	// Noise behind a filter hardly shows from sample to sample; a ringing that goes on does.
	rest := e.v.Samples(e.bus.over)
	floor := max(ringPart*peak, restSigma*pointNoise(rest), min(restSigma*waveform.StdDev(rest), peak/2))
	last := lo
	for k := lo; k < hi; k++ {
		if math.Abs(e.v.Y[k]-e.bus.level) > floor {
			last = k
		}
	}
	iv.To = e.v.Time(last)
	down, _ := ringPassages(e.v, e.bus.level, iv, floor)
	period := medianGap(down, nil)
	if len(down) < 3 || !(period > 4*e.v.Dt) {
		return iv, period, false
	}
	iv.To = min(iv.To, iv.From+ringCycles*period)
	return iv, period, true
}

// ringDecay returns the decay rate of the envelope [1/s] from the powers of the two halves
// of the ringing about the level, less that of the noise at rest there. What is left of the
// later half is taken for no less than what chance makes of as much noise.
func ringDecay(tr *waveform.Trace, level state, iv waveform.Interval) float64 {
	noise := waveform.StdDev(tr.Samples(level.over))
	noise *= noise
	power := func(iv waveform.Interval) float64 {
		sum, y := 0.0, tr.Samples(iv)
		for _, v := range y {
			sum += (v - level.level) * (v - level.level)
		}
		n := float64(len(y))
		return max(sum/n-noise, noise*math.Sqrt(2/n))
	}
	return math.Log(power(part(iv, 0, 0.5))/power(part(iv, 0.5, 1))) / iv.Duration()
}

// view is the aligner's data for one search: the current moved by put, which is
// nothing but in the test of recovery.
type view struct {
	a      *aligner
	put    float64
	offs   []*edge
	ons    []*edge
	rings  []stretch // as many samples as tell all that there is
	coarse []stretch // as many as the first search needs
	rising []stretch // one of each turn-on, for rises to work in
}

func (a *aligner) view(put float64) view {
	w := view{a: a, put: put, rising: make([]stretch, len(a.ons))}
	for k, e := range a.offs {
		w.offs = append(w.offs, e.moved(put))
		w.rings = append(w.rings, a.stretch(w.offs[k], a.rings[k], true, a.every(fineSteps), stretch{}))
		w.coarse = append(w.coarse, a.stretch(w.offs[k], a.rings[k], true, a.every(coarseSteps), stretch{}))
	}
	for _, e := range a.ons {
		w.ons = append(w.ons, e.moved(put))
	}
	return w
}

// every is one in how many samples is kept where so many of a cycle are asked for.
func (a *aligner) every(steps float64) int { return int(a.period / steps / a.dt) }

// moved returns the edge with its current delayed by put.
func (e *edge) moved(put float64) *edge {
	m, i := *e, *e.i
	i.T0 += put
	m.i = &i
	return &m
}

// onset returns when the current of a turn-on rises: until it has reached most
// of the load current the freewheeling device conducts.
func onset(e *edge) (waveform.Interval, bool) {
	iv := waveform.Interval{
		From: waveform.FirstCrossing(e.i, 0.05*e.load, waveform.Rising, e.search),
		To:   waveform.FirstCrossing(e.i, risePart*e.load, waveform.Rising, e.search),
	}
	return iv, iv.Duration() > 0
}

// rises returns the turn-on stretches for a delay d, each from rest. They last until it
// is called again.
func (w view) rises(d float64) []stretch {
	n := 0
	for k, e := range w.ons {
		iv := w.a.onset[k]
		rise := iv.Duration()
		iv.From, iv.To = iv.From+w.put-d-2*rise, iv.To+w.put-d
		if s := w.a.stretch(e, iv, false, int(rise/coarseSteps/w.a.dt), w.rising[n]); s.flux != nil {
			w.rising[n] = s
			n++
		}
	}
	return w.rising[:n]
}

// riseStep is how finely the rises are searched for the delay: to a sample, or to
// half of what their own samples are apart.
func (a *aligner) riseStep() float64 {
	step := math.Inf(1)
	for _, iv := range a.onset {
		step = min(step, iv.Duration()/(2*coarseSteps))
	}
	if math.IsInf(step, 1) {
		return a.dt
	}
	return max(step, a.dt)
}

// estimate finds the delay of the shot with its current moved by put.
func (a *aligner) estimate(put float64) alignment {
	none := alignment{delay: math.NaN(), u: math.NaN(), l: math.NaN()}
	w := a.view(put)
	rise := func(d float64) loopFit { return fitLoop(w.rises(d), d, a.decay) }
	coarse := a.minima(rise, a.riseStep())
	if len(a.offs) == 0 {
		none.reason = "the record holds no turn-off with a ringing that stands out of the noise"
		switch {
		case len(a.ons) == 0:
			none.reason += ", and no turn-on under a load current that can be read"
			return none
		case len(coarse) == 0:
			none.reason += ", and in the rise of the current no delay within 100 ns fits the loop's equation better than those beside it"
			return none
		}
		none.delay = coarse[0].d
		none.reason += "; the rise of the current alone gives this, which is right to a nanosecond or two"
		return none
	}
	step := a.period / coarseSteps
	fits := a.minima(func(d float64) loopFit { return fitLoop(w.coarse, d, a.decay) }, step)
	if len(fits) == 0 || fits[0].misfit > worstMisfit {
		none.beyond = true
		none.reason = fmt.Sprintf("at no delay within %.0f ns do current and voltage obey the loop's equation after the turn-off", delayMax*1e9)
		return none
	}
	best, lead := a.decide(fits, coarse, rise)
	est := a.finish(w, best.d, step)
	est.how = fmt.Sprintf("ringing after %d turn-off(s), %.0f %% of the flux unexplained", len(a.offs), 100*misfitPart*math.Sqrt(best.misfit))
	if !math.IsInf(lead, 1) {
		est.how += fmt.Sprintf(", the next period %.1f times worse", lead)
	}
	switch beyond := w.beyond(est.delay); {
	case !est.sure:
	case beyond > 0:
		est.sure, est.reason = false, fmt.Sprintf("with it the current would change %.3g ns further from the voltage than both edges and a period of the ringing last", beyond*1e9)
	case len(coarse) == 0 && len(fits) > 1 && fits[1].misfit < rivalMisfit*max(fits[0].misfit, 1):
		est.sure, est.reason = false, "other delays, periods of the ringing apart, fit nearly as well, and there is no turn-on to decide"
	case est.l > likeL*est.ringL || est.ringL > likeL*est.l:
		est.sure, est.reason = false, fmt.Sprintf("the ringing asks for a loop inductance of %s, the rise of the current for %s", unit.Format(est.ringL, "H", 2), unit.Format(est.l, "H", 2))
	case len(coarse) > 0 && lead < sureLead:
		est.sure, est.reason = false, "the rise of the current does not decide which of several delays, periods of the ringing apart, is the right one"
	}
	return est
}

// beyond is how much further apart than both edges and a period of the ringing last [s]
// a delay d would have voltage and current pass their middles, at the edge at which that is
// the most: it bounds the delay and finds none.
func (w view) beyond(d float64) float64 {
	most := math.Inf(-1)
	for _, m := range slices.Concat(w.offs, w.ons) {
		at := func(l result.Limit) float64 {
			t, _ := m.crossing(l)
			return t
		}
		last := math.Abs(at(v(90))-at(v(10))) + math.Abs(at(i(90))-at(i(10))) + w.a.period
		if x := math.Abs(at(i(50))-d-at(v(50))) - last; x > most {
			most = x
		}
	}
	return most
}

// decide chooses among the minima of the ringing, which are a period apart, by
// the rise of the current: each minimum counts with its misfit of both, each
// relative to the least that there is. It returns the best and by how many times
// the next one is worse.
func (a *aligner) decide(fits, coarse []loopFit, rise func(d float64) loopFit) (best loopFit, lead float64) {
	if len(coarse) == 0 {
		return fits[0], math.Inf(1)
	}
	least, next := math.Inf(1), math.Inf(1)
	best = fits[0]
	for _, f := range fits {
		if f.misfit > worstMisfit {
			continue
		}
		on := math.Inf(1)
		for k := -3; k <= 3; k++ { // the rise itself is right to a part of a period
			if m := rise(f.d + float64(k)*0.05*a.period).misfit; m < on {
				on = m
			}
		}
		score := f.misfit/max(fits[0].misfit, 1) + on/max(coarse[0].misfit, 0.3)
		switch {
		case score < least:
			best, least, next = f, score, least
		case score < next:
			next = score
		}
	}
	return best, next / least
}

// parts of the ringing, in periods from its start, that each give an estimate
// of their own. The loop's equation holds for all of it only if neither the
// device's capacitance nor its losses change, and the channels are alike; how
// far the parts disagree tells how far that is not so.
var ringParts = [][2]float64{{0, ringCycles}, {0.5, ringCycles}, {1, ringCycles}, {2, ringCycles}, {0, 2}}

// finish refines the delay on parts of the ringing, and judges it.
func (a *aligner) finish(w view, d, step float64) (est alignment) {
	var fits []loopFit
	for _, p := range ringParts {
		rings := w.cut(p)
		if len(rings) == 0 {
			continue
		}
		fits = append(fits, a.nearest(rings, d, step))
	}
	if len(fits) == 0 {
		return alignment{delay: d, u: math.NaN(), l: math.NaN(), over: a.rings[0],
			reason: "the ringing dies down within one and a half periods: it does not fix the delay"}
	}
	est = alignment{over: a.rings[0], sure: true}
	var ds, ls []float64
	// At one frequency a resistance of the loop looks like a delay of R/(L·ω²), and
	// which of the two a fit finds is chance. So all parts are brought to one
	// resistance: half of what the decay would need if all losses were in the loop.
	omega := 2 * math.Pi / a.period
	for _, f := range fits {
		ds, ls = append(ds, f.d+(a.decay-f.r/f.l)/(omega*omega)), append(ls, f.l)
	}
	est.delay, est.ringL = waveform.Mean(ds), waveform.Mean(ls)
	model := 0.0
	if len(fits) > 1 {
		model = waveform.StdDev(ds)
	}
	defer func() {
		est.l, est.lLines = a.inductance(w, est)
		if len(a.onset) > 0 {
			est.lOver = a.onset[0]
		}
	}()
	const grid = 0.03 // what interpolation between samples leaves, in samples
	for _, x := range []struct {
		source string
		u      float64
		scope  result.Scope
	}{
		{"parts of the ringing that disagree", model, result.OfRun},
		{noiseSource, fits[0].spread(w.rings, a.period/2), result.OfReading},
		{"losses of the loop or of the device", a.decay / (omega * omega) / math.Sqrt(3), result.OfRun},
		{"sampling", grid * a.dt, result.OfReading},
	} {
		est.lines = append(est.lines, result.Contribution{Source: x.source, U: x.u, Unit: "s", Effect: x.u, Scope: x.scope, Basis: fromCapture})
	}
	est.lines = append(est.lines, a.form...)
	est.u = uncertainty.Total(est.lines)
	if !(est.u <= max(a.dt, a.period/8)) {
		est.sure, est.reason = false, "the ringing is too small against noise and misfit to fix its phase"
	}
	return est
}

// nearest finds the least misfit around d, which the first search, that saw
// only some of the samples, may have missed by a little.
func (a *aligner) nearest(rings []stretch, d, step float64) loopFit {
	fit := func(d float64) loopFit { return fitLoop(rings, d, a.decay) }
	near := fit(d)
	for k := -6; k <= 6; k++ {
		if f := fit(d + float64(k)*step/3); f.misfit < near.misfit {
			near = f
		}
	}
	return refine(fit, near.d-step/3, near.d+step/3, 1e-3*a.dt)
}

// cut returns the given part of the ringing, in periods from its start.
func (w view) cut(p [2]float64) []stretch {
	var out []stretch
	for k, e := range w.offs {
		iv := w.a.rings[k]
		iv.From, iv.To = iv.From+p[0]*w.a.period, min(iv.To, iv.From+p[1]*w.a.period)
		if s := w.a.stretch(e, iv, true, w.a.every(fineSteps), stretch{}); s.flux != nil && iv.Duration() > 1.5*w.a.period {
			out = append(out, s)
		}
	}
	return out
}

// minima returns the minima of the misfit with a positive inductance, least
// misfit first.
func (a *aligner) minima(fit func(d float64) loopFit, step float64) []loopFit {
	step = max(step, delayMax/1000)
	n := int(delayMax / step)
	fits := make([]loopFit, 2*n+1)
	for k := range fits {
		fits[k] = fit(float64(k-n) * step)
	}
	var out []loopFit
	for k := 1; k+1 < len(fits); k++ {
		if f := fits[k]; f.l > 0 && f.misfit <= fits[k-1].misfit && f.misfit <= fits[k+1].misfit {
			out = append(out, f)
		}
	}
	slices.SortStableFunc(out, func(a, b loopFit) int {
		if a.misfit < b.misfit {
			return -1
		}
		return 1
	})
	return out
}

// refine narrows a minimum of the misfit down by golden section.
func refine(fit func(d float64) loopFit, lo, hi, tol float64) loopFit {
	const g = 0.6180339887498949
	a, b := fit(hi-g*(hi-lo)), fit(lo+g*(hi-lo))
	for hi-lo > tol {
		if a.misfit < b.misfit {
			hi, b = b.d, a
			a = fit(hi - g*(hi-lo))
		} else {
			lo, a = a.d, b
			b = fit(lo + g*(hi-lo))
		}
	}
	if a.misfit < b.misfit {
		return a
	}
	return b
}

package dpt

import (
	"fmt"
	"math"

	"slewbook/dpt/result"
	"slewbook/waveform"
)

// Fewer samples than this on a 10-90 % transition, and its times and energies
// are of the order of the sampling error 1/N² and more.
const minEdgeSamples = 5

// reading is a measurement under way: a value with the interval it was read on
// and what there is to say about it.
type reading struct {
	value      float64
	u          float64               // standard uncertainty, 0 until it is computed
	budget     []result.Contribution // what u is made of
	unknown    *waveform.Warning     // why u cannot be told, nil where it can
	monteCarlo *result.MonteCarlo    // what trials say beside u, where they are asked for
	corrected  float64               // what was added to what was read, for bandwidth; 0 for nothing
	perDelay   float64               // of an energy [J/s]
	perRing    float64               // of an energy: change by one more period of the ringing in the window [J]
	delay      *result.Delay
	form       form              // what it is read as, which decides what noise does to it
	role       result.Role       // the channel of an extreme, a fit
	per        float64           // of a ratio: its value per unit of what was read; 0 for 1
	looked     waveform.Interval // where an extreme was looked for
	fitted     int               // samples of a fit, of a steepest slope
	noise      float64           // what noise does to it, where the reading itself knows
	missed     float64           // what may lie between its samples, where the reading itself knows
	ends       []result.Limit    // the limits that the interval was read between, if it was
	passed     []passage         // the instants that it was read from, where they are no limits
	of         []share           // the readings that it is computed from, if it is
	over       waveform.Interval
	ahead      float64 // how far behind its end was looked [s]
	def        string
	draw       func(d *result.Drawing) // adds how it was read off, beyond what form and ends tell; nil for nothing
	sweeps     []result.Sweep
	warnings   []waveform.Warning
}

// passage is an instant at which a signal passes a level, and the change of a
// reading with a shift of it [unit/s].
type passage struct {
	tr     *waveform.Trace
	t      float64
	weight float64
}

// share is another reading, and the change of a reading with its value.
type share struct {
	reading
	weight float64
}

// form says what a reading is read as: it decides what noise, quantisation and
// sampling do to it.
type form int

const (
	someForm    form = iota // not stated: its noise is, or noise is added and it is read again
	levelForm               // at rest, or a line: u is that of the level
	extremeForm             // largest or smallest sample of role
	timeForm                // from one of the ends to the other
	slopeForm               // a swing over such a time
	fitForm                 // slope of a line through fitted samples of role
	energyForm              // integral of v·i between the ends
)

func (q *reading) warn(ws ...*waveform.Warning) {
	for _, w := range ws {
		if w != nil {
			q.warnings = append(q.warnings, *w)
		}
	}
}

// missing is a reading without a number, for a reason.
func missing(def string, w *waveform.Warning) reading {
	q := reading{value: math.NaN(), def: def, over: nowhere}
	q.warn(w)
	return q
}

var nowhere = waveform.Interval{From: math.NaN(), To: math.NaN()}

// duration reads the time from one limit to the other, each at its first
// crossing.
func (e *edge) duration(from, to result.Limit) reading {
	q := reading{value: math.NaN(), over: nowhere, def: fmt.Sprintf("%s to %s", from, to), form: timeForm, ends: []result.Limit{from, to}}
	a, wa := e.crossing(from)
	b, wb := e.crossing(to)
	q.warn(wa, wb)
	if wa != nil || wb != nil {
		return q
	}
	q.over = waveform.Interval{From: a, To: b}
	if b < a {
		q.warn(e.inverted(from, to, q.over))
		return q
	}
	q.value = b - a
	if from.Signal == to.Signal {
		q.warn(e.sampling(from.Signal, q.over), e.slowed(from.Signal, q.over), e.restarted(from, to, q.over))
	}
	return q
}

// inverted says that an interval ends before it begins.
func (e *edge) inverted(from, to result.Limit, iv waveform.Interval) *waveform.Warning {
	return &waveform.Warning{Code: waveform.WindowInverted, Over: iv,
		Text: fmt.Sprintf("%s (%s) comes %.3g ns before %s (%s): first suspect is the delay between the channels, which moves one against the other",
			to, at(iv.To), (iv.From-iv.To)*1e9, from, at(iv.From))}
}

// sampling warns where a transition holds too few samples.
func (e *edge) sampling(role result.Role, iv waveform.Interval) *waveform.Warning {
	tr, _ := e.trace(role)
	if n := iv.Duration() / tr.Dt; n < minEdgeSamples {
		return &waveform.Warning{Code: waveform.FewSamples, Channel: string(role), Over: iv,
			Text: fmt.Sprintf("only %.1f samples on this transition of %s; sample at %.2g GS/s or more", n, role, 2*minEdgeSamples/iv.Duration()*1e-9)}
	}
	return nil
}

// slowRatio is how many times as long as the channel's own rise a transition
// must be to be read right to 5 %.
const slowRatio = 3

// slowed warns where the channel's bandwidth lengthens a transition.
func (e *edge) slowed(role result.Role, iv waveform.Interval) *waveform.Warning {
	bw, ok := e.bandwidth[role]
	system := waveform.SystemRise(bw)
	if !ok || !(iv.Duration() < slowRatio*system) {
		return nil
	}
	own := "it cannot tell how fast the edge is"
	if t := waveform.OwnRise(iv.Duration(), system); !math.IsNaN(t) {
		own = fmt.Sprintf("by root-sum-square the edge itself takes about %.3g ns", t*1e9)
	}
	return &waveform.Warning{Code: waveform.Bandwidth, Channel: string(role), Over: iv,
		Text: fmt.Sprintf("%.3g ns is near the rise of the channel itself, %.3g ns at %.4g MHz: %s", iv.Duration()*1e9, system*1e9, bw*1e-6, own)}
}

// restarted warns where the first limit is passed again before the second one
// is reached, so that a rule that restarts there would read another time.
func (e *edge) restarted(from, to result.Limit, iv waveform.Interval) *waveform.Warning {
	tr, _ := e.trace(from.Signal)
	again := e.lastCrossing(from, iv)
	if !(again-iv.From > tr.Dt) {
		return nil
	}
	return &waveform.Warning{Code: waveform.Recrossed, Channel: string(from.Signal), Over: waveform.Interval{From: iv.From, To: again},
		Text: fmt.Sprintf("%s is passed again at %s: %.4g ns from the first crossing, %.4g ns from the last one", from, at(again), iv.Duration()*1e9, (iv.To-again)*1e9)}
}

// average turns a duration between two percentages of base into the average
// slope over it, as a magnitude.
func average(q reading, base, percent float64) reading {
	q.form = slopeForm
	q.value = base * percent / 100 / q.value
	if !(q.value > 0) || math.IsInf(q.value, 0) {
		q.value = math.NaN()
	}
	return q
}

// steepestDef tells the rule, not how many samples it came to, as every definition:
// shots that were read alike can be compared.
const steepestDef = "line through a fifth of the samples from 10 to 90 %, at least 3"

// steepest reads the steepest local fit to a signal between two instants, as a
// magnitude: through a fifth of the samples there, and at least three.
func (e *edge) steepest(role result.Role, base reading) reading {
	tr, _ := e.trace(role)
	if math.IsNaN(base.value) {
		return missing(steepestDef, firstWarning(base))
	}
	n := max(int(base.over.Duration()/tr.Dt/5), 3)
	// The steepest part may lie a little outside of the 10-90 % interval.
	pad := 0.1*base.over.Duration() + float64(n)*tr.Dt
	l := waveform.SteepestFit(tr, waveform.Interval{From: base.over.From - pad, To: base.over.To + pad}, n, e.direction(role))
	half := float64(n-1) / 2 * tr.Dt
	q := reading{value: math.Abs(l.Slope), over: waveform.Interval{From: l.T - half, To: l.T + half},
		form: fitForm, role: role, fitted: n, def: steepestDef}
	if math.IsNaN(q.value) {
		q = missing(steepestDef, &waveform.Warning{Code: waveform.ClippedWindow, Channel: string(role), Over: base.over,
			Text: fmt.Sprintf("a sample of %s on the edge is over range or missing", role)})
	}
	return q
}

// firstWarning returns the first warning of a reading that has no value, so
// that what is derived from it can give the same reason.
func firstWarning(q reading) *waveform.Warning {
	if len(q.warnings) == 0 {
		return nil
	}
	return &q.warnings[0]
}

// peak reads the largest sample of a signal in an interval.
func (e *edge) peak(role result.Role, iv waveform.Interval, def string) reading {
	tr, _ := e.trace(role)
	y, t := waveform.Max(tr, iv)
	if math.IsNaN(y) {
		return missing(def, &waveform.Warning{Code: waveform.ClippedWindow, Channel: string(role), Over: iv,
			Text: fmt.Sprintf("a sample of %s between %s and %s is over range or missing: its peak is not known", role, at(iv.From), at(iv.To))})
	}
	q := reading{value: y, form: extremeForm, role: role, looked: iv, over: waveform.Interval{From: t, To: t}, def: def}
	base := e.bus.level
	if role.Unit() == "A" {
		base = e.load
	}
	q.warn(fewAtTop(role, tr, t, base))
	return q
}

// Fewer samples than this in the upper half of a peak, and they do not tell its shape.
const minTopSamples = 3

// fewAtTop warns where a peak above base, with its largest sample at t, holds too few.
func fewAtTop(role result.Role, tr *waveform.Trace, t, base float64) *waveform.Warning {
	k := int(math.Round(tr.Pos(t)))
	half := (tr.Y[k] + base) / 2
	lo, hi := k, k
	for lo > 0 && tr.Y[lo-1] > half {
		lo--
	}
	for hi+1 < len(tr.Y) && tr.Y[hi+1] > half {
		hi++
	}
	if n := hi - lo + 1; n < minTopSamples && tr.Y[k] > base {
		return &waveform.Warning{Code: waveform.FewSamples, Channel: string(role), Over: waveform.Interval{From: tr.Time(lo), To: tr.Time(hi)},
			Text: fmt.Sprintf("only %d of at least %d samples in the upper half of this peak of %s: how high it is between them is not known well", n, minTopSamples, role)}
	}
	return nil
}

// currentPeak reads the largest current of the turn-on itself.
func (e *edge) currentPeak() reading {
	const def = "largest sample from i 90 % to the later of v 10 % and the return of i to the load current"
	iv, w := e.turningOn()
	if w != nil {
		return missing(def, w)
	}
	return e.peak(result.Id, iv, def)
}

// turningOn is the stretch from i 90 % to the later of v 10 % and the first return of
// the current to the load current, in which a peak is the turn-on's and not the load's.
func (e *edge) turningOn() (waveform.Interval, *waveform.Warning) {
	from, w := e.crossing(i(90))
	if w != nil {
		return nowhere, w
	}
	to, w := e.crossing(v(10))
	if back := e.loadReturn(from); !(to >= back) && !math.IsNaN(back) {
		to, w = back, nil
	}
	iv := waveform.Interval{From: from, To: to}
	if w == nil && to < from { // with a skew v may be through before i is there
		w = e.inverted(i(90), v(10), iv)
	}
	return iv, w
}

// loadReturn returns when the current, having risen above the load current
// after t, first comes back to it; NaN if it does not rise above, or stays.
func (e *edge) loadReturn(t float64) float64 {
	lo, hi := e.i.Indices(waveform.Interval{From: t, To: e.search.To})
	above := false
	slope := e.line.line.Slope / (e.line.bus - e.line.vOn)
	load := e.load // at the half crossing; from t on it follows the bus voltage
	for k := lo; k < hi; k++ {
		v := e.v.At(e.i.Time(k))
		if !math.IsNaN(v) {
			load += slope * (e.bus.level - v) * e.i.Dt
		}
		switch {
		case e.i.Y[k] > load:
			above = true
		case above:
			return e.i.Time(k)
		case e.i.Time(k)-t > 0.5*e.search.Duration():
			return math.NaN()
		}
	}
	return math.NaN()
}

// noLoad warns where the edge carries no load current that its levels could be
// percentages of.
func (e *edge) noLoad(full float64) *waveform.Warning {
	if e.load > 0.05*full {
		return nil
	}
	if math.IsNaN(e.load) {
		return e.noCurrent()
	}
	text := fmt.Sprintf("the load current at this %s is %.3g A, against %.3g A at most in the record: percentages of it mean nothing", e.kind, e.load, full)
	return &waveform.Warning{Code: waveform.NoLoad, Channel: string(result.Id), Over: e.search, Text: text}
}

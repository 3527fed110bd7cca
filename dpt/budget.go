package dpt

import (
	"fmt"
	"maps"
	"math"
	"slices"

	"slewbook/dpt/result"
	"slewbook/dpt/uncertainty"
	"slewbook/waveform"
	"slewbook/waveform/unit"
)

// budget gives every reading of an edge its standard uncertainty: the law of
// propagation (JCGM 100, 5.1.2, from memory) with sensitivities by
// reading the edge again with each input moved by its uncertainty either way; and
// what noise, quantisation and sampling do to what it is read as.
// Inputs are uncorrelated; one that acts on several quantities of the edge, as a
// gain or the delay, acts on each with its sign.
func (m *measurer) budget(e *edge, read map[string]reading) {
	if m.opt.withoutU {
		return
	}
	near := e.near(read)
	lines := m.effects(near, e.inputs, read, m.readEdge)
	again, noises := m.readNoisy(near, read), map[string]doubt{}
	for key, q := range read {
		noises[key] = e.noiseOf(q, again[key])
	}
	smeared, thinned := m.readSmeared(near, read, noises), m.readThinned(near, read, noises)
	chosen := m.readChosen(near, read, noises)
	// In order, since what is assumed is noted as it is met.
	for _, key := range slices.Sorted(maps.Keys(read)) {
		q := read[key]
		noise := noises[key]
		bandwidth, left := m.correctBandwidth(e, &q, smeared[key])
		for _, own := range []struct {
			source string
			effect float64
			scope  result.Scope
		}{
			{noiseSource, noise.spread, result.OfReading},
			{chosenSource, noise.shift, result.OfSetup},
			{"sampling", max(e.samplingOf(q), thinned[key]), result.OfReading},
			{bandwidth, left, result.OfSetup},
			{crossingSource, chosen[key], result.OfReading},
		} {
			c, _ := result.FindColumn(key)
			lines[key] = append(lines[key], result.Contribution{Source: own.source, U: math.Abs(own.effect), Unit: c.Unit, Effect: own.effect, Scope: own.scope, Basis: fromCapture})
		}
		q.nearMiss(chosen[key])
		q.budgeted(lines[key])
		m.read[key], read[key] = q, q
	}
	m.keep(model{near, e.inputs, read, m.readEdge, true})
}

// effects moves each input of an edge by its uncertainty either way, reads again,
// and tells what that does to each of the readings found.
func (m *measurer) effects(near *edge, inputs []source, found map[string]reading, read func(*edge) map[string]reading) map[string][]result.Contribution {
	lines := map[string][]result.Contribution{}
	if m.opt.withoutU {
		return lines
	}
	for _, s := range inputs {
		if !(s.u > 0) {
			continue
		}
		up, down := near.copy(), near.copy()
		s.move(up, s.u)
		s.move(down, -s.u)
		plus, minus := read(up), read(down)
		for key, q := range found {
			effect := moved(q.value, plus[key].value, minus[key].value)
			if s.unknown && effect != 0 {
				effect = math.Inf(1)
			}
			lines[key] = append(lines[key], result.Contribution{Source: s.name, U: s.u, Unit: s.unit, Effect: effect, Scope: s.scope, Basis: s.basis})
		}
	}
	return lines
}

// budgeted gives the reading its budget and the uncertainty that follows from
// it. Lines that do nothing are left out; one that is not a number leaves the
// reading without an uncertainty, which is told.
func (q *reading) budgeted(lines []result.Contribution) {
	var kept []result.Contribution
	for _, c := range lines {
		switch {
		case c.Effect-c.Effect != 0:
			q.untold(c)
			return
		case c.Effect != 0:
			kept = append(kept, c)
		}
	}
	q.budget = uncertainty.Sorted(kept)
	q.u = uncertainty.Total(q.budget)
}

// withoutU leaves the reading without an uncertainty, and tells why.
func (q *reading) withoutU(w *waveform.Warning) {
	q.unknown = w
	q.warn(w)
}

// derived gives a reading the budget that follows from those of others, unless one of
// these has no uncertainty.
func (q *reading) derived(lines []result.Contribution, from ...reading) {
	for _, p := range from {
		if p.unknown == nil {
			continue
		}
		q.unknown = p.unknown
		if !slices.Contains(q.warnings, *p.unknown) {
			q.warn(p.unknown)
		}
		return
	}
	q.budgeted(lines)
}

// untold warns that a reading has no uncertainty, since what a source does to it shows in
// no number: so much of it moves a limit out of the edge, the samples around it are too
// few, or its end is that of what was recorded.
func (q *reading) untold(c result.Contribution) {
	if math.IsNaN(q.value) {
		return
	}
	switch {
	case math.IsInf(c.Effect, 1): // an input without a bound
		q.withoutU(&waveform.Warning{Code: waveform.DelayUnknown, Over: q.over,
			Text: fmt.Sprintf("its uncertainty is not known: it changes with the %s, and no delay that was looked for fits this shot", c.Source)})
	case c.Source == crossingSource:
		q.withoutU(&waveform.Warning{Code: waveform.Recrossed, Over: q.over,
			Text: fmt.Sprintf("its uncertainty is not known: %s or %s is passed by less than what noise, zero and level leave open, and then left again for good", q.ends[0], q.ends[1])})
	default:
		q.withoutU(&waveform.Warning{Code: waveform.FewSamples, Over: q.over,
			Text: fmt.Sprintf("its uncertainty is not known: what %q, known to %s (k = 1), does to it cannot be read off the samples around it", c.Source, unit.Format(c.U, c.Unit, 2))})
	}
}

// moved is what an input moved by plus and minus its uncertainty does to a
// value: the root mean square of both, so that a level on a flat stretch, which
// is then passed elsewhere, counts for what it does, with the sign of what plus
// does. A side on which there is no value is left out; what rounding makes of an
// input that does nothing is nothing.
func moved(value, plus, minus float64) float64 {
	const rounding = 1e-11
	p, q := plus-value, value-minus
	switch {
	case math.Abs(p)+math.Abs(q) <= rounding*math.Abs(value):
		return 0
	case math.IsNaN(p):
		return q
	case math.IsNaN(q):
		return p
	}
	return math.Copysign(math.Sqrt((p*p+q*q)/2), p+q)
}

// near returns the edge with its traces cut to what its readings need, so that
// it can be read again at little cost.
func (e *edge) near(read map[string]reading) *edge {
	iv := waveform.Interval{From: min(e.search.From, e.gate.From), To: e.search.From}
	for _, q := range read {
		// Levels and load lines are read far away, but are kept as they are.
		if q.form != levelForm && q.over.Duration() >= 0 && q.over.To < e.search.To {
			iv.To = max(iv.To, q.over.To+q.ahead)
		}
	}
	d := max(iv.Duration(), 20*e.v.Dt)
	iv = waveform.Interval{From: iv.From - 0.5*d, To: min(iv.To+0.5*d, e.search.To)}
	n := e.copy()
	n.v, n.i, n.g = crop(e.v, iv), crop(e.i, iv), crop(e.g, iv)
	for role, tr := range n.other {
		n.other[role] = crop(tr, iv)
	}
	n.search.To, n.gate.To, n.again = iv.To, iv.To, true
	return n
}

func (e *edge) copy() *edge {
	n := *e
	for _, tr := range []**waveform.Trace{&n.v, &n.i, &n.g} {
		if *tr != nil {
			t := **tr
			*tr = &t
		}
	}
	n.other = map[result.Role]*waveform.Trace{}
	for role, tr := range e.other {
		t := *tr
		n.other[role] = &t
	}
	return &n
}

// crop returns the part of a trace inside iv, without copying samples.
func crop(tr *waveform.Trace, iv waveform.Interval) *waveform.Trace {
	if tr == nil {
		return nil
	}
	lo, hi := tr.Indices(iv)
	out := *tr
	out.T0, out.Y = tr.Time(lo), tr.Y[lo:hi]
	return &out
}

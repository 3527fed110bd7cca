package dpt

import (
	"fmt"
	"math"
	"slices"

	"slewbook/dpt/result"
	"slewbook/waveform"
	"slewbook/waveform/unit"
)

// An edge is staged where the gate, or v, is held between its two levels: within
// holdBand of its swing for holdPart of its passage and minHold samples at least, between
// holdEdge of the swing and the rest of it. A gate that stands still while v or i moves
// is on its plateau, and v does so by the loop's L·di/dt while i moves: neither is a
// stage.
const (
	holdBand = 0.03
	holdPart = 0.3
	holdEdge = 0.15
	minHold  = 8
)

// hold is a stretch in which a signal is held.
type hold struct {
	over  waveform.Interval
	label string
}

// phases leaves the phases of an edge that is switched in stages: two-level and soft
// turn-off, stepped drives. The edge is one event all the same.
func (m *measurer) phases(e *edge) {
	holds := e.holds()
	if len(holds) == 0 {
		m.softPhases(e)
		return
	}
	slices.SortFunc(holds, func(a, b hold) int {
		if a.over.From < b.over.From {
			return -1
		}
		return 1
	})
	whole := e.commanded()
	from := whole.From
	var parts []hold
	step := func(to float64) {
		if to > from {
			parts = append(parts, hold{waveform.Interval{From: from, To: to}, fmt.Sprintf("step %d", (len(parts)+2)/2)})
		}
	}
	for _, h := range holds {
		if h.over.From < from { // both are held at once
			continue
		}
		step(h.over.From)
		parts = append(parts, h)
		from = h.over.To
	}
	step(whole.To)
	for _, p := range parts {
		m.shot.Phases = append(m.shot.Phases, m.phase(e, p))
	}
}

// softRatio is how many times as long as at the turn-on the gate takes at a turn-off
// that is told as a soft one.
const softRatio = 5

// softPhases leaves the phases of a turn-off whose gate is led down slowly and without
// a hold, as protection does.
func (m *measurer) softPhases(e *edge) {
	if e.kind != result.TurnOff || m.on == nil || e.g == nil {
		return
	}
	down, up := e.passage(g(90), g(10)), m.on.passage(g(10), g(90))
	if !(up.Duration() > 0) || down.Duration() < softRatio*up.Duration() {
		return
	}
	start, _ := e.crossing(g(90))
	for _, l := range []struct {
		label string
		to    result.Limit
	}{{"soft: delay", v(10)}, {"soft: v rises", v(90)}, {"soft: i falls", i(10)}} {
		end, w := e.crossing(l.to)
		if w != nil || !(end > start) {
			return
		}
		m.shot.Phases = append(m.shot.Phases, m.phase(e, hold{waveform.Interval{From: start, To: end}, l.label}))
		start = end
	}
}

// commanded returns from where to where an edge goes: from the gate's first level, or
// v's or i's, to the last of all.
func (e *edge) commanded() waveform.Interval {
	first, last := []result.Limit{g(90), v(10)}, []result.Limit{g(10), v(90), i(10)}
	if e.kind == result.TurnOn {
		first, last = []result.Limit{g(10), i(10)}, []result.Limit{g(90), v(10), i(90)}
	}
	return e.outermost(first, last)
}

// outermost reaches from the earliest of the first limits to the latest of the last
// ones, those that are not passed left out; NaN where none is.
func (e *edge) outermost(first, last []result.Limit) waveform.Interval {
	over := waveform.Interval{From: math.NaN(), To: math.NaN()}
	for _, l := range first {
		if t, w := e.crossing(l); w == nil && !(t >= over.From) {
			over.From = t
		}
	}
	for _, l := range last {
		if t, w := e.crossing(l); w == nil && !(t <= over.To) {
			over.To = t
		}
	}
	return over
}

// holds lists where the gate or v is held.
func (e *edge) holds() []hold {
	a, b := v(10), v(90)
	c, d := i(90), i(10)
	x, y := g(90), g(10)
	if e.kind == result.TurnOn {
		a, b, c, d, x, y = b, a, d, c, y, x
	}
	moving := []waveform.Interval{e.passage(c, d)}
	var out []hold
	for _, iv := range held(e.v, e.passage(a, b), e.bus.level, e.grain[result.Vds].sigma) {
		if y := waveform.Level(e.v.Samples(iv), waveform.Shorth); between(y, 0, e.bus.level) && !coincides(iv, moving) {
			out = append(out, hold{iv, "v held at " + unit.Format(y, "V", 3)})
		}
	}
	if e.g == nil {
		return out
	}
	moving = append(moving, e.passage(a, b))
	for _, iv := range held(e.g, e.passage(x, y), e.gHigh-e.gLow, e.grain[result.Vgs].sigma) {
		if y := waveform.Level(e.g.Samples(iv), waveform.Shorth); between(y, e.gLow, e.gHigh) && !coincides(iv, moving) {
			out = append(out, hold{iv, "gate held at " + unit.Format(y, "V", 3)})
		}
	}
	return out
}

// between tells whether a level is well off both states.
func between(y, low, high float64) bool {
	part := (y - low) / (high - low)
	return part > holdEdge && part < 1-holdEdge
}

// passage returns the stretch from one limit to another, an empty one where they are
// not passed in this order.
func (e *edge) passage(a, b result.Limit) waveform.Interval {
	from, wa := e.crossing(a)
	to, wb := e.crossing(b)
	if wa != nil || wb != nil || !(to > from) {
		return waveform.Interval{}
	}
	return waveform.Interval{From: from, To: to}
}

// coincides tells whether a quarter of a stretch or more lies in one of the others, as
// long again, or what channels lag, taken at both of their ends, which are flat.
func coincides(iv waveform.Interval, others []waveform.Interval) bool {
	for _, o := range others {
		if o.Duration() == 0 {
			continue
		}
		d := max(o.Duration(), 2*defaultDelay)
		if min(iv.To, o.To+d)-max(iv.From, o.From-d) > iv.Duration()/4 {
			return true
		}
	}
	return false
}

// held lists the stretches of a passage in which a trace stays within holdBand of its
// swing, or of its noise.
func held(tr *waveform.Trace, iv waveform.Interval, swing, sigma float64) []waveform.Interval {
	var out []waveform.Interval
	lo, hi := tr.Indices(iv)
	band := max(2*holdBand*math.Abs(swing), 2*restSigma*sigma)
	least := max(minHold, int(holdPart*float64(hi-lo)))
	for k := lo; k+least <= hi; {
		low, high, n := tr.Y[k], tr.Y[k], 1
		for ; k+n < hi; n++ {
			y := tr.Y[k+n]
			if low, high = min(low, y), max(high, y); !(high-low <= band) {
				break
			}
		}
		if n >= least {
			out = append(out, around(tr, k, k+n, band/2))
			k += n
			continue
		}
		k += max(1, n/8)
	}
	return out
}

// around cuts the ends off a stretch of samples that are farther from its level than
// band.
func around(tr *waveform.Trace, lo, hi int, band float64) waveform.Interval {
	level := waveform.Level(tr.Y[lo:hi], waveform.Shorth)
	for lo < hi && math.Abs(tr.Y[lo]-level) > band {
		lo++
	}
	for hi > lo+1 && math.Abs(tr.Y[hi-1]-level) > band {
		hi--
	}
	return waveform.Interval{From: tr.Time(lo), To: tr.Time(hi - 1)}
}

// phase reads slopes and energy of one phase, whose ends stay where they are while the
// inputs are moved.
func (m *measurer) phase(e *edge, p hold) result.Phase {
	read := func(e *edge, q map[string]reading) {
		dt := p.over.Duration()
		sv, si := e.grain[result.Vds].sigma, e.grain[result.Id].sigma
		from, to := p.over.From, p.over.To
		q["dvdt"] = reading{value: (e.v.At(to) - e.v.At(from)) / dt, over: p.over, noise: math.Sqrt2 * sv / dt}
		q["didt"] = reading{value: (e.i.At(to) - e.i.At(from)) / dt, over: p.over, noise: math.Sqrt2 * si / dt}
		q["e"] = reading{value: waveform.ProductIntegral(e.v, e.i, p.over), over: p.over,
			noise: math.Sqrt(dt*e.i.Dt) * math.Hypot(waveform.Mean(e.v.Samples(p.over))*si, waveform.Mean(e.i.Samples(p.over))*sv)}
	}
	m.varied(e, 0, []result.Role{result.Vds, result.Id}, read)
	out := result.Phase{Edge: e.kind, Pulse: e.pulse, Label: p.label, Over: p.over}
	for _, x := range []struct{ key, unit, def string }{{"dvdt", "V/s", "change of v over the phase"}, {"didt", "A/s", "change of i over the phase"}, {"e", "J", "∫v·i dt over the phase"}} {
		q := m.read[x.key]
		delete(m.read, x.key)
		u := q.u
		if u == 0 {
			u = math.NaN()
		}
		one := result.Measurement{Key: x.key, Unit: x.unit, Value: q.value, U: u, Over: p.over, Definition: x.def, Budget: q.budget}
		if math.IsNaN(q.value) {
			one.Warnings = append(one.Warnings, *e.voided(p.over))
		}
		out.Quantities = append(out.Quantities, one)
	}
	return out
}

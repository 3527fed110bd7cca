package dpt

import (
	"fmt"
	"math"

	"slewbook/dpt/result"
	"slewbook/waveform"
)

// crossingSource is the budget line of which of several crossings of a level is the one.
const crossingSource = "choice of crossing"

// choice says which crossing of a level an edge is read from, where what is not known of
// the level leaves several.
type choice int

const (
	earlier choice = iota - 1 // the first that the signal misses by no more than that
	first                     // the first one
	later                     // the first that it passes by more than that
)

// openUpTo is the coverage factor of what is not known of a signal against its levels: a
// crossing that the interval of 95 % leaves open is one that may be the wrong one.
const openUpTo = 2

// levelDoubts is what is not known of a signal against its levels (k = 2): noise of a
// sample, zero, and the level's own base (whole, though a level has a part of it only).
func (e *edge) levelDoubts() map[result.Role]float64 {
	of := map[string]result.Role{"zero of vds": result.Vds, "level of the bus": result.Vds, "zero of id": result.Id}
	doubts := map[result.Role]float64{}
	for _, role := range []result.Role{result.Vds, result.Id} {
		doubts[role] = openUpTo * e.grain[role].sigma
	}
	for _, s := range e.inputs {
		if role, ok := of[s.name]; ok {
			doubts[role] = math.Hypot(doubts[role], openUpTo*s.u)
		}
	}
	return doubts
}

// chosen returns, for a limit first passed at t, the crossing that the edge's choice asks
// for; NaN if the signal never passes the limit by more than what is not known of it.
func (e *edge) chosen(l result.Limit, t float64) float64 {
	doubt, ok := e.doubts[l.Signal]
	if e.choice == first || !ok {
		return t
	}
	tr, iv := e.trace(l.Signal)
	way, level, back := float64(e.direction(l.Signal)), e.level(l), restSigma*e.grain[l.Signal].sigma
	beyond := func(k int) float64 { return way * (tr.Y[k] - level) }
	if e.choice == earlier {
		return missedBefore(tr, beyond, doubt, back, iv.From, t)
	}
	_, hi := tr.Indices(part(iv, 0, 0.9))
	most := 0.0
	for k := int(tr.Pos(t)) + 1; k < hi; k++ {
		most = max(most, beyond(k))
		if most > doubt {
			return t
		}
		if beyond(k) < 0 {
			t = waveform.FirstCrossing(tr, level, e.direction(l.Signal), waveform.Interval{From: tr.Time(k), To: iv.To})
			if math.IsNaN(t) {
				return t
			}
			k, most = max(int(tr.Pos(t)), k), 0 // rounded, it may lie a hair before
		}
	}
	return t
}

// missedBefore returns the first instant between from and t at which the signal, having
// come nearer, is within doubt of the limit and then goes back, both by more than its
// noise; t if there is none.
func missedBefore(tr *waveform.Trace, beyond func(int) float64, doubt, back, from, t float64) float64 {
	lo, hi := tr.Indices(waveform.Interval{From: from, To: t})
	near, low, top := -1, math.Inf(1), math.Inf(-1)
	for k := lo; k < hi; k++ {
		x := beyond(k)
		switch {
		case near < 0:
			low = min(low, x)
			if x-low > back && x >= -doubt {
				near, top = k, x
			}
		case top-x > back:
			return tr.Time(near)
		default:
			top = max(top, x)
		}
	}
	return t
}

// readChosen reads the edge again from the earlier and the later crossings, and returns
// what that changes: either crossing is as likely as the first. Noise alone makes several of
// one, the last as far behind it as the first before; what that explains is no choice. It is
// NaN where a level is passed by no more than what is not known of it.
func (m *measurer) readChosen(e *edge, read map[string]reading, noise map[string]doubt) map[string]float64 {
	n := e.copy()
	n.doubts = e.levelDoubts()
	n.choice = earlier
	before := m.readEdge(n)
	n.choice = later
	after := m.readEdge(n)
	effect := map[string]float64{}
	for key, q := range read {
		a, b := before[key].value-q.value, after[key].value-q.value
		if len(q.ends) != 2 {
			a, b = zeroIfNaN(a), zeroIfNaN(b)
		}
		explained := 2 * (math.Abs(noise[key].shift) + noise[key].spread)
		b = math.Copysign(math.Sqrt(max(b*b-explained*explained, 0)), b)
		effect[key] = math.Copysign(math.Hypot(a, b)/math.Sqrt2, a+b)
	}
	return effect
}

func zeroIfNaN(x float64) float64 {
	if math.IsNaN(x) {
		return 0
	}
	return x
}

// nearMiss warns where the choice of a crossing changes a reading.
func (q *reading) nearMiss(effect float64) {
	if len(q.ends) != 2 || !(math.Sqrt2*math.Abs(effect) > recrossTol*math.Abs(q.value)) {
		return
	}
	q.warn(&waveform.Warning{Code: waveform.Recrossed, Over: q.over,
		Text: fmt.Sprintf("%s or %s is missed, or passed, by less than what noise, zero and level leave open: from another crossing this would change by %.2g %%, which its uncertainty holds", q.ends[0], q.ends[1], 100*math.Sqrt2*math.Abs(effect/q.value))})
}

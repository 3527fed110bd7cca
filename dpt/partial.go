package dpt

import (
	"fmt"
	"math"
	"slices"

	"slewbook/dpt/result"
	"slewbook/waveform"
	"slewbook/waveform/unit"
)

// partial is a time in which v leaves the state that it rests at and comes back
// without a stay in the other one: a bounce of the gate near its threshold, or a
// pulse too short for the device. It is no event, but it is told.
type partial struct {
	stay  int               // in which it lies
	over  waveform.Interval // outside of the band around the state
	worst float64           // farthest from the state [V]
}

// A partial excursion goes towards the other state by more than partialTol of the
// swing, for partialSamples at least, once v has stayed within it either way for
// partialRest of the stay and partialRests passages of the edge: before that it is the ringing of the edge. Afterwards v stays so for longer
// than the excursion: else it is the dip of L·di/dt, or a step, of the next edge.
const (
	partialTol     = 0.25
	partialSamples = 3
	partialRest    = 0.05
	partialRests   = 10
)

// findPartials finds the excursions in all stays.
func (r *record) findPartials() {
	swing := r.vHigh - r.vLow
	for k := range len(r.moves) + 1 {
		state, way := r.vHigh, -swing
		if r.conducts(k) {
			state, way = r.vLow, swing
		}
		iv := r.stay(k)
		if k < len(r.moves) {
			iv.To = r.moves[k].Dur.From
		}
		rest := partialRest * r.stay(k).Duration()
		if k > 0 {
			rest = max(rest, partialRests*r.moves[k-1].Dur.Duration())
		}
		found := excursions(r.v, k, iv, state, way, rest)
		if k < len(r.moves) && !r.conducts(k) {
			found = slices.DeleteFunc(found, func(p partial) bool { return r.dips(p, r.moves[k]) })
		}
		r.partials = append(r.partials, found...)
	}
}

// dips tells that an excursion is the dip of L·di/dt of the turn-on that follows: it comes
// no longer before it than a stay lasts, and the current that rises in it does not fall
// back, as that of a bounce does.
func (r *record) dips(p partial, next waveform.Transition) bool {
	near := stayPassages * next.Dur.Duration()
	if next.Dur.From-p.over.To > near {
		return false
	}
	base, _ := waveform.Min(r.i, waveform.Interval{From: p.over.From - near, To: p.over.From})
	top, fall := math.Inf(-1), 0.0
	for _, i := range r.i.Samples(waveform.Interval{From: p.over.From, To: next.T}) {
		top = max(top, i)
		fall = max(fall, top-i)
	}
	return fall < (top-base)/2
}

// excursions lists the runs of samples that are farther from the state, by way
// towards the other one, than partialTol of it.
func excursions(tr *waveform.Trace, stay int, iv waveform.Interval, state, way, rest float64) []partial {
	var out []partial
	var run partial
	n, settled := 0, false
	last := iv.From // sample that was beyond either way
	lo, hi := tr.Indices(iv)
	for k := lo; k < hi; k++ {
		t, away := tr.Time(k), (tr.Y[k]-state)/way
		if !(math.Abs(away) > partialTol) { // nor a missing sample
			if n >= partialSamples && t-last > run.over.Duration() {
				out = append(out, run)
				n = 0
			}
			settled = settled || t-last > rest
			continue
		}
		last = t
		if !settled || away < 0 {
			continue
		}
		if n == 0 {
			run = partial{stay: stay, over: waveform.Interval{From: t}, worst: state}
		}
		n++
		run.over.To = t
		if away > (run.worst-state)/way {
			run.worst = tr.Y[k]
		}
	}
	return out
}

// untilPartial returns the end of the stretch of stay k that belongs to the edge
// before it: its end, or where v leaves its state for a while, less as long again,
// since the current moves before v does.
func (r *record) untilPartial(k int) float64 {
	for _, p := range r.partials {
		if p.stay == k {
			return max(p.over.From-p.over.Duration(), r.stay(k).From)
		}
	}
	return r.stay(k).To
}

// partialsTold is how many excursions are told one by one.
const partialsTold = 3

// tellPartials warns of pulses that were seen and not counted.
func (m *measurer) tellPartials() {
	for k, p := range m.r.partials {
		if k == partialsTold {
			m.warn(waveform.PartialPulse, result.Vds, waveform.Interval{From: p.over.From, To: m.r.partials[len(m.r.partials)-1].over.To},
				"%d more such excursions follow", len(m.r.partials)-k)
			return
		}
		from, to := m.r.vHigh, "the on-state"
		if m.r.conducts(p.stay) {
			from, to = m.r.vLow, "the bus voltage"
		}
		current := ""
		if top, _ := waveform.Max(m.r.i, p.over); top > 0.05*m.full {
			current = fmt.Sprintf(", with a current of up to %s", unit.Format(top, "A", 3))
		}
		m.warn(waveform.PartialPulse, result.Vds, p.over,
			"v goes from %s to %s for %s and comes back without a stay at %s%s: a bounce of the gate near its threshold, or a pulse too short for the device; it is not counted as a pulse, and nothing is read from it",
			unit.Format(from, "V", 3), unit.Format(p.worst, "V", 3), unit.Format(p.over.Duration(), "s", 3), to, current)
	}
}

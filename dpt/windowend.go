package dpt

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"slewbook/dpt/result"
	"slewbook/waveform"
)

// settledPart is how far, of the energy, its running integral may still move once
// it counts as settled.
const settledPart = 0.01

// windowEnd returns where a window that starts at from ends, by its rule, and how
// far behind that it had to look [s].
func (e *edge) windowEnd(w result.Window, from float64) (to, ahead float64, warn *waveform.Warning) {
	if w.Duration > 0 {
		to = from + w.Duration
		return to, 0, e.beforeNext(to)
	}
	to, warn = e.crossing(w.End)
	if warn != nil {
		return to, 0, warn
	}
	switch w.Rule {
	case result.DwellEnd:
		to, warn = e.dwellEnd(w, to)
		ahead = w.Dwell
	case result.LastEnd:
		to = e.lastPassed(w.End, to)
	case result.SettledEnd:
		ahead = to - from
		to, warn = e.settledEnd(w, from, to)
	}
	if to += w.Tail; w.Tail > 0 && warn == nil {
		warn = e.beforeNext(to)
	}
	return to, ahead, warn
}

// beforeNext tells where a window that lasts a given time would reach into the
// next edge, to which the last tenth of the stretch belongs, or out of the record.
func (e *edge) beforeNext(to float64) *waveform.Warning {
	last := part(e.search, 0, 0.9).To
	if to <= last {
		return nil
	}
	return &waveform.Warning{Code: waveform.NotInRecord, Over: waveform.Interval{From: e.search.From, To: to},
		Text: fmt.Sprintf("the window would last to %s, into the next edge or out of the record; what belongs to this edge ends at %s: take longer pulses, or another window", at(to), at(last))}
}

// lastPassed returns the last crossing of a limit after t, the signal having come
// back beyond it by more than its noise in between; t if it does not come back.
// The last tenth of the stretch belongs to the next edge.
func (e *edge) lastPassed(l result.Limit, t float64) float64 {
	tr, _ := e.trace(l.Signal)
	way, level := e.direction(l.Signal), e.level(l)
	rest := waveform.Interval{From: t, To: part(e.search, 0, 0.9).To}
	y := tr.Samples(rest)
	if !slices.ContainsFunc(y, func(y float64) bool { return float64(way)*(y-level) < 0 }) {
		return t
	}
	back := waveform.LastCrossing(tr, level-float64(way)*restSigma*pointNoise(y), way, rest)
	if math.IsNaN(back) {
		return t
	}
	return waveform.FirstCrossing(tr, level, way, waveform.Interval{From: back, To: rest.To})
}

// dwellEnd returns the first crossing of the end level from t on after which the
// signal stays on the far side of it for the dwell.
func (e *edge) dwellEnd(w result.Window, t float64) (float64, *waveform.Warning) {
	tr, _ := e.trace(w.End.Signal)
	way := e.direction(w.End.Signal)
	back := waveform.Rising
	if way == waveform.Rising {
		back = waveform.Falling
	}
	for t+w.Dwell <= e.search.To {
		again := waveform.FirstCrossing(tr, e.level(w.End), back, waveform.Interval{From: t, To: t + w.Dwell})
		if math.IsNaN(again) {
			return t, nil
		}
		next := waveform.FirstCrossing(tr, e.level(w.End), way, waveform.Interval{From: again, To: e.search.To})
		if math.IsNaN(next) {
			break
		}
		t = next
	}
	return math.NaN(), &waveform.Warning{Code: waveform.LevelNotReached, Channel: string(w.End.Signal), Over: waveform.Interval{From: t, To: e.search.To},
		Text: fmt.Sprintf("%s is not kept for %.4g ns before the next edge or the end of the record", w.End, w.Dwell*1e9)}
}

// settledEnd returns the first instant from t on, the first crossing, from which
// the running integral of v·i stays within settledPart of itself for as long as
// the window to the first crossing lasts.
func (e *edge) settledEnd(w result.Window, from, t float64) (float64, *waveform.Warning) {
	look := t - from
	late := &waveform.Warning{Code: waveform.SettleShort, Over: waveform.Interval{From: from, To: e.search.To},
		Text: fmt.Sprintf("the running integral of v·i does not stay within %g %% of itself for %.4g ns before the next edge or the end of the record", 100*settledPart, look*1e9)}
	if !(look > 0) {
		return t, nil // the window is inverted, which is told as such
	}
	ends := []float64{t}
	run := []float64{waveform.ProductIntegral(e.v, e.i, waveform.Interval{From: from, To: t})}
	next, hi := e.i.Indices(waveform.Interval{From: t, To: e.search.To})
	for c := 0; c < len(run); c++ {
		for k := c; ; k++ {
			if k == len(run) { // the integral is not that far yet
				if next == hi {
					return math.NaN(), late
				}
				last, now := ends[k-1], e.i.Time(next)
				run = append(run, run[k-1]+waveform.ProductIntegral(e.v, e.i, waveform.Interval{From: last, To: now}))
				ends = append(ends, now)
				next++
			}
			if !(math.Abs(run[k]-run[c]) <= settledPart*math.Abs(run[c])) {
				break
			}
			if ends[k]-ends[c] >= look {
				return ends[c], nil
			}
		}
	}
	return math.NaN(), late
}

// spanWarning says why a span of voltage has no slope.
func (e *edge) spanWarning(o Options) *waveform.Warning {
	return &waveform.Warning{Code: waveform.LevelNotReached, Channel: string(result.Vds), Over: e.search,
		Text: fmt.Sprintf("a slope from %.4g V to %.4g V cannot be read where v runs from 0 to %.4g V", o.SpanFrom, o.SpanTo, e.bus.level)}
}

// perRing tells each energy of the edge how it changes where its window ends one
// period of the edge's ringing later: what the choice of the end under ringing is
// worth.
func (m *measurer) perRing(e *edge) {
	key := "f_ring_off"
	if e.kind == result.TurnOn {
		key = "f_ring_on"
	}
	f := m.read[key].value
	if !(f > 0) {
		return
	}
	for key, q := range m.read {
		column, _, _ := strings.Cut(key, ".")
		if column != energyKey(e.kind) || math.IsNaN(q.value) {
			continue
		}
		if change := waveform.ProductIntegral(e.v, e.i, waveform.Interval{From: q.over.To, To: q.over.To + 1/f}); !math.IsNaN(change) {
			q.perRing = change
			m.read[key] = q
		}
	}
}

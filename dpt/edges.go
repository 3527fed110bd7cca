package dpt

import (
	"math"

	"slewbook/dpt/result"
	"slewbook/waveform"
)

// iRestTol is how far the current may be off the load line, relative to the
// load current, and still count as at rest.
const iRestTol = 0.03

// newEdge reads the bases of event k: bus voltage from the stay in which the
// device blocks, load current from the stay in which it conducts, gate levels
// from the stays on both sides; and finds where the edge starts.
func (r *record) newEdge(k int, method waveform.LevelMethod) *edge {
	ev := r.events[k]
	e := &edge{kind: ev.Edge, pulse: ev.Pulse, index: k, v: r.v, i: r.i, g: r.g, other: r.other, bandwidth: r.bandwidth, grain: r.grain}
	swing := r.vHigh - r.vLow
	blocking, conducting := k, k+1 // stays, for a turn-on
	if e.kind == result.TurnOff {
		blocking, conducting = k+1, k
	}
	e.bus = r.rest(r.v, blocking, swing, method)
	over := r.conducting(conducting, method)
	if e.kind == result.TurnOn {
		over = r.early(conducting, over)
	}
	e.line = r.fitLoad(over, e.bus.level)
	e.gLow, e.gHigh = math.NaN(), math.NaN()

	gLeft := math.NaN()
	if r.g != nil {
		low := r.rest(r.g, blocking, r.gHigh-r.gLow, method)
		high := r.rest(r.g, conducting, r.gHigh-r.gLow, method)
		e.gLow, e.gHigh = low.level, high.level
		e.gateRest = []state{low, high}
		if gLeft = low.left; e.kind == result.TurnOff {
			gLeft = high.left
		}
	}
	vLeft := r.rest(r.v, k, swing, method).left
	iRest := func(float64) float64 { return 0 }
	i0 := e.line.at(r.moves[k].T)
	if e.kind == result.TurnOff {
		iRest = e.line.line.At
	}
	iLeft := r.departure(r.i, k, iRest, iRestTol*i0)

	stop := r.untilPartial(k + 1)
	start := earliest(r.moves[k].Dur.From, vLeft, iLeft, gLeft)
	e.search = waveform.Interval{From: start, To: stop}
	e.gate = e.search
	if !math.IsNaN(gLeft) {
		e.gate.From = gLeft
	}
	e.findLoad(i0)
	return e
}

// earliest returns the smallest of the instants that are known.
func earliest(ts ...float64) float64 {
	t := math.NaN()
	for _, x := range ts {
		if !(x >= t) && !math.IsNaN(x) {
			t = x
		}
	}
	return t
}

// findLoad sets the load current: that of the load line when v passes half the
// bus (turn-off), or when i passes half of that very current (turn-on), which
// takes a second look since the level depends on the answer.
func (e *edge) findLoad(first float64) {
	e.load = first
	half := result.Limit{Signal: result.Vds, Percent: 50}
	looks := 1
	if e.kind == result.TurnOn {
		half.Signal, looks = result.Id, 3
	}
	for range looks {
		t, w := e.crossing(half)
		if w != nil {
			if e.kind == result.TurnOff {
				e.load = math.NaN()
			}
			return
		}
		e.load = e.line.at(t)
	}
}

// early returns the part of stay k, in which the device conducts, that a load
// line is to be continued back from: past the ringing of the turn-on, but near
// it, since resistance and saturation bend the ramp.
func (r *record) early(k int, late waveform.Interval) waveform.Interval {
	over := part(r.stay(k), 0.15, 0.6)
	over.To = min(over.To, late.To)
	return over
}

// conducting returns the part of stay k, in which the device conducts, that
// the load line is fitted on: the later half, up to a tenth before the first
// signal departs for the next edge.
func (r *record) conducting(k int, method waveform.LevelMethod) waveform.Interval {
	over := r.rest(r.v, k, r.vHigh-r.vLow, method).over
	if r.g != nil {
		over.To = min(over.To, r.rest(r.g, k, r.gHigh-r.gLow, method).over.To)
	}
	return over
}

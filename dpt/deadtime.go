package dpt

import (
	"cmp"
	"fmt"
	"math"

	"slewbook/dpt/result"
	"slewbook/waveform"
	"slewbook/waveform/unit"
)

// deadTimes reads the dead time at both edges where the partner's gate is switched as
// well (synchronous freewheeling): from where the gate that goes off passes a part of its
// swing to where the gate that comes on does. A negative one is an overlap.
func (m *measurer) deadTimes() {
	other := m.r.other[result.VgsOther]
	if m.r.g == nil || other == nil {
		return
	}
	low, high := waveform.States(other.Y, waveform.Shorth)
	if !(high-low > 0.5*(m.r.gHigh-m.r.gLow)) {
		return // held off, or a diode
	}
	moves, err := passages(other, low, high)
	if err != nil || len(moves) == 0 {
		return
	}
	for _, e := range []*edge{m.off, m.on} {
		if e == nil {
			continue // the edge is not there, which absent tells of its other quantities
		}
		key := "t_dead_" + e.side()
		chosen := cmp.Or(m.opt.Definitions[key], result.Default(key, false))
		for _, percent := range []float64{50, 10} {
			name := fmt.Sprintf("g%g-g%g", percent, percent)
			q := m.deadTime(e, moves, low+percent/100*(high-low), percent)
			if m.wants(key, name) {
				m.read[key+"."+name] = q
			}
			if name != chosen {
				continue
			}
			if name != result.Default(key, false) {
				q.def = name + ": " + q.def
			}
			m.read[key] = q
		}
	}
}

// besides is where a passage, which is that of the middle of a swing, may pass a level: on
// its way, or for a level below that as long again a few times before it rises or after it
// has fallen.
func besides(move waveform.Transition, percent float64) waveform.Interval {
	iv, reach := move.Dur, 4*move.Dur.Duration()
	switch {
	case percent > 100*hysteresisLow:
	case move.Dir == waveform.Rising:
		iv = waveform.Interval{From: iv.From - reach, To: iv.From}
	default:
		iv = waveform.Interval{From: iv.To, To: iv.To + reach}
	}
	return iv
}

func (m *measurer) deadTime(e *edge, moves []waveform.Transition, level, percent float64) reading {
	def := fmt.Sprintf("from the gate that goes off to the one that comes on, each at %g %% of its swing", percent)
	own, w := e.crossing(g(percent))
	if w != nil {
		return missing(def, w)
	}
	other, dir := m.r.other[result.VgsOther], waveform.Rising
	if e.kind == result.TurnOn {
		dir = waveform.Falling
	}
	near := math.NaN()
	for _, move := range moves {
		if move.Dir == dir && !(math.Abs(move.T-own) >= math.Abs(near-own)) {
			near = waveform.FirstCrossing(other, level, dir, besides(move, percent))
		}
	}
	// The partner's command belongs to this edge if it is nearer than half a stay.
	reach := 0.5 * min(m.r.stay(e.index).Duration(), m.r.stay(e.index+1).Duration())
	if !(math.Abs(near-own) < reach) {
		return missing(def, &waveform.Warning{Code: waveform.NotInRecord, Channel: string(result.VgsOther), Over: e.gate,
			Text: fmt.Sprintf("the partner's gate is not switched near this %s", e.kind)})
	}
	q := reading{value: near - own, over: waveform.Interval{From: own, To: near}, def: def}
	if e.kind == result.TurnOn {
		q.value, q.over = own-near, waveform.Interval{From: near, To: own}
	}
	if q.value < 0 {
		q.over.From, q.over.To = q.over.To, q.over.From
	}
	if q.value < 0 && percent == 50 {
		q.warn(&waveform.Warning{Code: waveform.GateOverlap, Channel: string(result.VgsOther), Over: q.over,
			Text: fmt.Sprintf("the gate that comes on passes 50 %% %s before the one that goes off does: both devices are commanded on", unit.Format(-q.value, "s", 3))})
	}
	var lines []result.Contribution
	for _, p := range []struct {
		role result.Role
		tr   *waveform.Trace
		t    float64
	}{{result.Vgs, m.r.g, own}, {result.VgsOther, other, near}} {
		slope, curvature := local(p.tr, p.t, m.r.grain[p.role].sigma)
		noise, sampling := m.r.grain[p.role].sigma/math.Abs(slope), p.tr.Dt*p.tr.Dt*math.Abs(curvature/slope)/8/math.Sqrt(3)
		lines = append(lines,
			result.Contribution{Source: noiseSource + " of " + string(p.role), U: noise, Unit: "s", Effect: noise, Scope: result.OfReading, Basis: fromCapture},
			result.Contribution{Source: "sampling of " + string(p.role), U: sampling, Unit: "s", Effect: sampling, Scope: result.OfReading, Basis: fromCapture})
	}
	a, b := m.unseenDelayU(result.Vgs), m.unseenDelayU(result.VgsOther)
	lag := math.Hypot(a.u, b.u)
	lines = append(lines, result.Contribution{Source: "delay between the gates", U: lag, Unit: "s", Effect: lag, Scope: result.OfSetup, Basis: b.basis})
	q.budgeted(lines)
	return q
}

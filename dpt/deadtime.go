package dpt

import (
	"fmt"
	"math"

	"slewbook/dpt/result"
	"slewbook/waveform"
	"slewbook/waveform/unit"
)

// deadTimes reads the dead time at both edges where the partner's gate is switched as
// well (synchronous freewheeling): from where the gate that goes off passes half its
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
	m.deadTime("t_dead_off", m.off, moves, (low+high)/2)
	m.deadTime("t_dead_on", m.on, moves, (low+high)/2)
}

func (m *measurer) deadTime(key string, e *edge, moves []waveform.Transition, middle float64) {
	const def = "from the gate that goes off to the one that comes on, each at 50 % of its swing"
	if e == nil {
		return // the edge is not there, which absent tells of its other quantities
	}
	own, w := e.crossing(g(50))
	if w != nil {
		m.read[key] = missing(def, w)
		return
	}
	other, dir := m.r.other[result.VgsOther], waveform.Rising
	if e.kind == result.TurnOn {
		dir = waveform.Falling
	}
	near := math.NaN()
	for _, move := range moves {
		if move.Dir == dir && !(math.Abs(move.T-own) >= math.Abs(near-own)) {
			near = waveform.FirstCrossing(other, middle, dir, move.Dur)
		}
	}
	// The partner's command belongs to this edge if it is nearer than half a stay.
	reach := 0.5 * min(m.r.stay(e.index).Duration(), m.r.stay(e.index+1).Duration())
	if !(math.Abs(near-own) < reach) {
		m.read[key] = missing(def, &waveform.Warning{Code: waveform.NotInRecord, Channel: string(result.VgsOther), Over: e.gate,
			Text: fmt.Sprintf("the partner's gate is not switched near this %s", e.kind)})
		return
	}
	q := reading{value: near - own, over: waveform.Interval{From: own, To: near}, def: def}
	if e.kind == result.TurnOn {
		q.value, q.over = own-near, waveform.Interval{From: near, To: own}
	}
	if q.value < 0 {
		q.over.From, q.over.To = q.over.To, q.over.From
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
	m.read[key] = q
}

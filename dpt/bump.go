package dpt

import (
	"fmt"
	"math"

	"slewbook/dpt/result"
	"slewbook/waveform"
	"slewbook/waveform/unit"
)

// idleGate reads how far the gate of the other device, which is held off, is thrown
// up and down while the device under test switches: by C_GD·dv/dt, and by what lies
// between its sense points. Beyond its threshold both conduct.
func (m *measurer) idleGate() {
	tr := m.r.other[result.VgsOther]
	if tr == nil {
		return
	}
	const def = "of vgs_other from the first move of v or i to as long again behind the last"
	var top, bottom reading
	for _, e := range []*edge{m.off, m.on} {
		if e == nil {
			continue
		}
		high, low := m.bump(e, tr, "largest "+def, "smallest "+def)
		top, bottom = beyondOther(top, high, 1), beyondOther(bottom, low, -1)
	}
	if top.def == "" {
		w := &waveform.Warning{Code: waveform.NotInRecord, Channel: string(result.VgsOther), Text: "the record holds no edge to read it at"}
		top, bottom = missing("", w), missing("", w)
	}
	m.idleMargin(&top)
	m.read["vgs_other_max"], m.read["vgs_other_min"] = top, bottom
}

// beyondOther returns the more extreme one of two readings; one that could not be
// read makes the extreme of both unknown.
func beyondOther(a, b reading, sign float64) reading {
	if a.def == "" || math.IsNaN(b.value) || !math.IsNaN(a.value) && sign*b.value > sign*a.value {
		return b
	}
	return a
}

// bump reads both extremes of the idle gate at an edge.
func (m *measurer) bump(e *edge, tr *waveform.Trace, highDef, lowDef string) (high, low reading) {
	first, last := []result.Limit{v(10)}, []result.Limit{i(10), v(90)}
	if e.kind == result.TurnOn {
		first, last = []result.Limit{i(10), v(90)}, []result.Limit{v(10)}
	}
	over := e.outermost(first, last)
	none := func(w *waveform.Warning) (reading, reading) { return missing(highDef, w), missing(lowDef, w) }
	if !(over.Duration() > 0) {
		return none(&waveform.Warning{Code: waveform.LevelNotReached, Over: e.search, Text: fmt.Sprintf("v and i do not pass their levels at the %s", e.kind)})
	}
	over.To += over.Duration()
	if w := m.switchedIn(tr, over); w != nil {
		return none(w)
	}
	y, t := waveform.Max(tr, over)
	z, s := waveform.Min(tr, over)
	if math.IsNaN(y + z) {
		return none(&waveform.Warning{Code: waveform.ClippedWindow, Channel: string(result.VgsOther), Over: over, Text: "vgs_other is over range or missing while the device under test switches"})
	}
	return m.idleU(tr, y, t, highDef), m.idleU(tr, z, s, lowDef)
}

// switchedIn tells that the gate is no idle one there: it passes from one of its levels
// to the other as a gate that is commanded does.
func (m *measurer) switchedIn(tr *waveform.Trace, over waveform.Interval) *waveform.Warning {
	low, high := waveform.States(tr.Y, waveform.Shorth)
	if m.r.g != nil && !(high-low > 0.5*(m.r.gHigh-m.r.gLow)) {
		return nil
	}
	moves, err := passages(tr, low, high)
	if err != nil {
		return nil
	}
	for _, move := range moves {
		if move.Dur.From < over.To && move.Dur.To > over.From {
			return &waveform.Warning{Code: waveform.NotInRecord, Channel: string(result.VgsOther), Over: move.Dur,
				Text: "the other device's gate is switched while the device under test does: it is not idle"}
		}
	}
	return nil
}

func (m *measurer) idleU(tr *waveform.Trace, y, t float64, def string) reading {
	q := reading{value: y, form: extremeForm, role: result.VgsOther, over: waveform.Interval{From: t, To: t}, def: def}
	noise := m.r.grain[result.VgsOther].sigma
	lines := []result.Contribution{
		m.gainOf(result.VgsOther, y),
		m.zeroOf(result.VgsOther, tr, 1),
		{Source: noiseSource, U: noise, Unit: "V", Effect: noise, Scope: result.OfReading, Basis: fromCapture},
	}
	if missed := max(missedPeak(tr, t, noise), missedPeak(change(tr, -1, 0), t, noise)); missed > 0 {
		lines = append(lines, result.Contribution{Source: "sampling", U: missed, Unit: "V", Effect: missed, Scope: result.OfReading, Basis: fromCapture})
	}
	q.budgeted(lines)
	return q
}

// idleMargin reads how far the largest voltage of the idle gate stays from the
// threshold that the set-up gives, and tells where it does not.
func (m *measurer) idleMargin(top *reading) {
	threshold := m.opt.Gate.Threshold
	if threshold == 0 {
		return
	}
	q := *top
	q.def = fmt.Sprintf("threshold of %s, as given, less vgs_other_max", unit.Format(threshold, "V", 3))
	if !math.IsNaN(q.value) {
		q.value = threshold - top.value
		if q.value < 0 {
			top.warn(&waveform.Warning{Code: waveform.ParasiticTurnOn, Channel: string(result.VgsOther), Over: top.over,
				Text: fmt.Sprintf("the idle device's gate reaches %s, above its threshold of %s: it conducts, or what lies between its sense points is in the reading", unit.Format(top.value, "V", 3), unit.Format(threshold, "V", 3))})
		}
	}
	m.read["vgs_other_margin"] = q
}

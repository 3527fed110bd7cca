package dpt

import (
	"cmp"
	"fmt"
	"math"

	"slewbook/dpt/result"
	"slewbook/waveform"
	"slewbook/waveform/unit"
)

// forwardU is the standard uncertainty of a bus voltage that is read in a gap, where
// the freewheeling device's forward voltage is on top of it: up to 5 V, as of a SiC body diode, one-sided.
const forwardU = 5 / 1.7320508075688772

// forwardOf is the line of a budget for that forward voltage, where one volt of it
// changes the value by unit.
func (m *measurer) forwardOf(unit float64) result.Contribution {
	m.assume("forward voltage of the freewheeling device within 5 V")
	return result.Contribution{Source: "forward voltage of the freewheeling device", U: forwardU, Unit: "V", Effect: forwardU * unit, Scope: result.OfSetup, Basis: assumed}
}

// busSag reads by how much the bus has fallen up to the turn-off, by how much it rises
// in the gap, and the capacitance of the bank that the fall tells.
func (m *measurer) busSag() {
	if m.off != nil {
		m.read["v_sag"] = m.sagged()
		if m.opt.Given.CBus > 0 {
			m.read["c_bus"] = m.bankSeen()
		}
	}
	if m.on != nil {
		m.read["v_recovery"] = m.recovered()
	}
}

// before is the bus voltage at rest before the first pulse, and why there is none.
func (m *measurer) before() (state, *waveform.Warning) {
	if m.r.events[0].Edge != result.TurnOn || m.r.events[0].Pulse > 1 {
		return state{level: math.NaN()}, &waveform.Warning{Code: waveform.NotInRecord, Text: "the record begins in a pulse, or after one: the bus voltage before the first pulse is not in it"}
	}
	s := m.r.rest(m.r.v, 0, m.r.vHigh-m.r.vLow, m.opt.Level)
	if math.IsNaN(s.level) || len(m.r.v.Samples(s.over)) < minQuiet {
		return s, &waveform.Warning{Code: waveform.SettleShort, Channel: string(result.Vds), Over: s.over, Text: "the voltage is not at rest before the first pulse"}
	}
	return s, nil
}

// sagged is v_bus before the first pulse less v_bus after the turn-off. The gain moves
// it in proportion, a zero not at all.
func (m *measurer) sagged() reading {
	const def = "bus at rest before the first pulse less that after the turn-off, which has the freewheeling device's forward voltage on it"
	first, w := m.before()
	if w == nil && math.IsNaN(m.off.bus.level) {
		w = firstWarning(level(result.Vds, m.r.v, m.off.bus, ""))
	}
	if w != nil {
		return missing(def, w)
	}
	q := reading{value: first.level - m.off.bus.level, over: waveform.Interval{From: first.over.From, To: m.off.bus.over.To}, def: def}
	a, b := first.u(m.r.v, m.r.grain[result.Vds]), m.off.bus.u(m.r.v, m.r.grain[result.Vds])
	q.budgeted([]result.Contribution{
		m.gainOf(result.Vds, q.value),
		{Source: "level before", U: a, Unit: "V", Effect: a, Scope: result.OfShot, Basis: fromCapture},
		{Source: "level after", U: b, Unit: "V", Effect: -b, Scope: result.OfShot, Basis: fromCapture},
		m.forwardOf(-1),
	})
	return q
}

// recovered is the rise of the bus over the gap before the turn-on: what the supply, or
// the bank's slower parts, bring back.
func (m *measurer) recovered() reading {
	const def = "slope of v at rest before the turn-on times the length of the gap"
	e := m.on
	if e.index == 0 {
		return missing(def, &waveform.Warning{Code: waveform.NotInRecord, Text: "no gap lies before this turn-on in the record"})
	}
	gap := m.r.stay(e.index)
	line := waveform.FitLine(m.r.v, e.bus.over)
	if line.N < minQuiet || math.IsNaN(line.Slope) {
		return missing(def, cmp.Or(lost(result.Vds, m.r.v, e.bus.over, "the bus in the gap"),
			&waveform.Warning{Code: waveform.SettleShort, Channel: string(result.Vds), Over: e.bus.over, Text: "the voltage is not at rest in the gap"}))
	}
	q := reading{value: line.Slope * gap.Duration(), over: gap, def: def}
	noise := grain{sigma: line.Residual, reach: m.r.grain[result.Vds].reach}.line(line.N, m.r.v.Dt) * gap.Duration()
	if q := m.r.grain[result.Vds].step; line.Residual < q/2 { // too still for the steps to average out
		noise = math.Hypot(noise, q/math.Sqrt(6))
	}
	// What the two halves of the stretch differ by is a ringing that has not gone, or a bend.
	a, b := waveform.FitLine(m.r.v, part(e.bus.over, 0, 0.5)), waveform.FitLine(m.r.v, part(e.bus.over, 0.5, 1))
	bend := (b.Slope - a.Slope) * gap.Duration() / math.Sqrt(12)
	q.budgeted([]result.Contribution{
		m.gainOf(result.Vds, q.value),
		{Source: noiseSource, U: noise, Unit: "V", Effect: noise, Scope: result.OfReading, Basis: fromCapture},
		{Source: "bend of the line", U: math.Abs(bend), Unit: "V", Effect: bend, Scope: result.OfReading, Basis: fromCapture},
	})
	return q
}

// bankSeen is the capacitance that gave the charge of the pulses for that sag,
// C = ∫i dt/v_sag; what the supply delivers meanwhile is left out of account.
func (m *measurer) bankSeen() reading {
	const def = "∫i dt over the pulses up to the turn-off / v_sag"
	sag := m.read["v_sag"]
	if math.IsNaN(sag.value) {
		return missing(def, firstWarning(sag))
	}
	if !(sag.value > 3*sag.u) {
		return missing(def, &waveform.Warning{Code: waveform.FewBits, Channel: string(result.Vds), Over: sag.over,
			Text: fmt.Sprintf("the bus sags by %s ± %s (k = 1): too little to tell a capacitance", unit.Format(sag.value, "V", 3), unit.Format(sag.u, "V", 2))})
	}
	over := waveform.Interval{From: sag.over.From, To: m.off.bus.over.From}
	charge := waveform.Integral(m.r.i, over)
	q := reading{value: charge / sag.value, over: over, def: def}
	if math.IsNaN(q.value) {
		return missing(def, &waveform.Warning{Code: waveform.ClippedWindow, Channel: string(result.Id), Over: over, Text: "id is over range or missing in a pulse"})
	}
	q.budgeted([]result.Contribution{
		{Source: "v_sag", U: sag.u, Unit: "V", Effect: -q.value * sag.u / sag.value, Scope: result.OfShot, Basis: fromCapture},
		m.gainOf(result.Id, q.value),
		m.zeroOfID(over.Duration() / sag.value),
	})
	return q
}

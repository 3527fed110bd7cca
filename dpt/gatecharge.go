package dpt

import (
	"fmt"
	"math"

	"slewbook/dpt/result"
	"slewbook/waveform"
	"slewbook/waveform/unit"
)

// chargeFloor is the part of its peak to which the gate current falls at the end of
// the charge.
const chargeFloor = 0.02

// gateCharge reads what the gate takes at the turn-on and gives back at the turn-off
// where its current is measured (counted positive into the gate): charge ∫ig dt and
// energy ∫vgs·ig dt at its sense points; and the energy that a driver between the two
// settled levels spends in a cycle, ΔV_GS·Q_G (IEC 60747-8, gate charge, from memory).
func (m *measurer) gateCharge() {
	tr := m.r.other[result.Ig]
	if tr == nil {
		return
	}
	for _, x := range []struct {
		e              *edge
		kind           result.Edge
		charge, energy string
		sign           float64
	}{{m.off, result.TurnOff, "q_g_off", "e_g_off", -1}, {m.on, result.TurnOn, "q_g_on", "e_g_on", 1}} {
		switch {
		case x.e == nil:
			w := m.notInRecord(x.kind, 0)
			m.read[x.charge], m.read[x.energy] = missing("", w), missing("", w)
		case x.e.g == nil:
			m.read[x.charge], m.read[x.energy] = missing("", m.noGate()), missing("", m.noGate())
		default:
			m.read[x.charge], m.read[x.energy] = m.chargeAt(x.e, tr, x.sign)
		}
	}
	m.driveEnergy()
}

// chargeAt integrates the gate current over an edge, less what it rests at before it.
func (m *measurer) chargeAt(e *edge, tr *waveform.Trace, sign float64) (charge, energy reading) {
	rest := m.r.rest(tr, e.index, 0, m.opt.Level)
	half := waveform.Interval{From: e.gate.From, To: part(e.search, 0, 0.5).To}
	sigma := m.r.grain[result.Ig].sigma
	peak := 0.0
	for _, y := range tr.Samples(half) {
		peak = max(peak, math.Abs(y-rest.level)) // NaN and Inf carry through
	}
	def := fmt.Sprintf("from the first move of the gate to where ig last exceeds %.0f %% of its peak", 100*chargeFloor)
	none := func(w *waveform.Warning) (reading, reading) {
		return missing("∫ig dt "+def, w), missing("∫vgs·ig dt "+def, w)
	}
	if !(peak < math.Inf(1)) {
		return none(&waveform.Warning{Code: waveform.ClippedWindow, Channel: string(result.Ig), Over: half, Text: "ig is over range or missing while the gate is charged"})
	}
	floor := max(chargeFloor*peak, restSigma*sigma)
	if !(peak > 2*floor) {
		return none(&waveform.Warning{Code: waveform.LevelNotReached, Channel: string(result.Ig), Over: half, Text: fmt.Sprintf("ig does not stand out of its noise of %s at the %s", unit.Format(sigma, "A", 2), e.kind)})
	}
	over := waveform.Interval{From: half.From, To: lastBeyond(tr, rest.level, half, floor)}
	q := waveform.Integral(tr, over) - rest.level*over.Duration()
	w := waveform.ProductIntegral(e.g, tr, over) - rest.level*waveform.Integral(e.g, over)
	if math.IsNaN(q + w) {
		return none(&waveform.Warning{Code: waveform.ClippedWindow, Channel: string(result.Vgs), Over: over, Text: "vgs is over range or missing while the gate is charged"})
	}
	charge = reading{value: sign * q, over: over, def: "∫ig dt " + def}
	energy = reading{value: w, over: over, def: "∫vgs·ig dt " + def}
	if !(charge.value > 0) {
		charge.warn(&waveform.Warning{Code: waveform.Polarity, Channel: string(result.Ig), Over: over,
			Text: fmt.Sprintf("the gate gets %s at the %s, the wrong way: ig counts positive into the gate; if the sensor is reversed, change channel.ig.invert", unit.Format(q, "C", 3), e.kind)})
	}
	zero := rest.u(tr, m.r.grain[result.Ig])
	n := math.Sqrt(over.Duration() * tr.Dt)
	swing := math.Abs(e.gHigh - e.gLow)
	top := max(math.Abs(e.gHigh), math.Abs(e.gLow))
	line := func(source string, u float64, unit string, effect float64, scope result.Scope, basis string) result.Contribution {
		return result.Contribution{Source: source, U: u, Unit: unit, Effect: effect, Scope: scope, Basis: basis}
	}
	charge.budgeted([]result.Contribution{
		m.gainOf(result.Ig, charge.value),
		line("zero of ig", zero, "A", zero*over.Duration(), result.OfShot, fromCapture),
		line("end of the charge", floor, "A", floor*e.chargeTail(tr, over), result.OfReading, fromCapture),
		line(noiseSource, sigma, "A", sigma*n, result.OfReading, fromCapture),
	})
	gainI, gainV, zeroV, lag := m.gainOf(result.Ig, w), m.gainOf(result.Vgs, w), m.zeroOf(result.Vgs, m.r.g, q), m.unseenDelayU(result.Ig)
	energy.budgeted([]result.Contribution{
		gainI, gainV, zeroV,
		line("zero of ig", zero, "A", zero*top*over.Duration(), result.OfShot, fromCapture),
		line("end of the charge", floor, "A", floor*top*e.chargeTail(tr, over), result.OfReading, fromCapture),
		line("delay of ig", lag.u, "s", lag.u*peak*swing/2, result.OfSetup, lag.basis),
		line(noiseSource, sigma, "A", sigma*n*top, result.OfReading, fromCapture),
	})
	return charge, energy
}

// chargeTail is the time over which what is left of the gate current after its end
// may still flow: a tenth of the charge's duration.
func (e *edge) chargeTail(tr *waveform.Trace, over waveform.Interval) float64 {
	return max(over.Duration()/10, tr.Dt)
}

// driveEnergy reads the driver's energy of a cycle from the charge of the turn-on.
func (m *measurer) driveEnergy() {
	const def = "(vgs_high - vgs_low)·q_g_on: what a driver between these levels spends in a cycle"
	q, high, low := m.read["q_g_on"], m.read["vgs_high"], m.read["vgs_low"]
	swing := high.value - low.value
	if math.IsNaN(q.value * swing) {
		m.read["e_drive"] = missing(def, cmpWarning(q, high))
		return
	}
	r := reading{value: q.value * swing, over: q.over, def: def}
	r.budgeted([]result.Contribution{
		{Source: "q_g_on", U: q.u, Unit: "C", Effect: q.u * swing, Scope: result.OfShot, Basis: fromCapture},
		m.gainOf(result.Vgs, r.value),
	})
	m.read["e_drive"] = r
}

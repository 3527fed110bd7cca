package dpt

import (
	"math"

	"slewbook/dpt/result"
	"slewbook/waveform"
)

// gateLevels reads the settled gate levels and the extremes of the gate.
func (m *measurer) gateLevels() {
	keys := []string{"vgs_high", "vgs_low", "vgs_max", "vgs_min"}
	if m.r.g == nil {
		w := m.noGate()
		for _, key := range keys {
			m.read[key] = missing("", w)
		}
		return
	}
	high, low := state{level: math.NaN()}, state{level: math.NaN()}
	swing := m.r.gHigh - m.r.gLow
	for k := range len(m.r.events) + 1 {
		on := m.r.conducts(k)
		if on && math.IsNaN(high.level) {
			high = m.r.rest(m.r.g, k, swing, m.opt.Level)
		}
		if !on && math.IsNaN(low.level) {
			low = m.r.rest(m.r.g, k, swing, m.opt.Level)
		}
	}
	m.read["vgs_high"] = level(high, "level at rest while on, "+string(m.opt.Level))
	m.read["vgs_low"] = level(low, "level at rest while off, "+string(m.opt.Level))
	whole := m.r.g.Span()
	for _, key := range keys[:2] {
		m.read[key] = m.gateU(m.read[key])
	}
	m.read["vgs_max"] = gateExtreme(m.r.g, whole, waveform.Max, "largest sample of the record")
	m.read["vgs_min"] = gateExtreme(m.r.g, whole, waveform.Min, "smallest sample of the record")
	for _, key := range keys[2:] {
		m.read[key] = m.gateU(m.read[key])
	}
}

func (m *measurer) noGate() *waveform.Warning {
	return &waveform.Warning{Code: waveform.NotInRecord, Channel: string(result.Vgs), Text: "no trace has the role vgs"}
}

// gateU gives a gate voltage its uncertainty: gain, zero and noise.
func (m *measurer) gateU(q reading) reading {
	if math.IsNaN(q.value) {
		return q
	}
	gain, offset, noise := m.gainU(result.Vgs), m.offsetU(result.Vgs, m.r.g), m.r.sigma[result.Vgs]
	q.budgeted([]result.Contribution{
		{Source: "gain of vgs", U: gain.u, Unit: "1", Effect: gain.u * q.value, Scope: result.OfSetup, Basis: gain.basis},
		{Source: "zero of vgs", U: offset.u, Unit: "V", Effect: offset.u, Scope: result.OfSetup, Basis: offset.basis},
		{Source: noiseSource, U: noise, Unit: "V", Effect: noise, Scope: result.OfReading, Basis: fromCapture},
	})
	return q
}

func gateExtreme(tr *waveform.Trace, iv waveform.Interval, extreme func(*waveform.Trace, waveform.Interval) (y, t float64), def string) reading {
	y, t := extreme(tr, iv)
	if math.IsNaN(y) {
		return missing(def, &waveform.Warning{Code: waveform.ClippedWindow, Channel: string(result.Vgs), Over: iv,
			Text: "a sample of the gate is over range or missing: its extremes are not known"})
	}
	return reading{value: y, form: extremeForm, role: result.Vgs, over: waveform.Interval{From: t, To: t}, def: def}
}

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
	high, low := m.settledGate(true), m.settledGate(false)
	grain, whole := m.r.grain[result.Vgs], m.r.g.Span()
	m.read["vgs_high"] = m.gateU(level(result.Vgs, m.r.g, high, "level at rest while on, "+string(m.opt.Level)), doubt{0, high.u(m.r.g, grain)})
	m.read["vgs_low"] = m.gateU(level(result.Vgs, m.r.g, low, "level at rest while off, "+string(m.opt.Level)), doubt{0, low.u(m.r.g, grain)})
	most := gateExtreme(m.r.g, whole, waveform.Max, "largest sample of the record")
	m.read["vgs_max"] = m.gateU(most, grain.among(m.r.g, most, 1))
	least := gateExtreme(m.r.g, whole, waveform.Min, "smallest sample of the record")
	m.read["vgs_min"] = m.gateU(least, grain.among(m.r.g, least, -1))
}

// settledGate returns the level of the gate in the first stay of its kind in which it is at
// rest; where it never is, that of the stay in which it is known best. A slow gate is on its
// way for half of a short stretch before the first pulse.
func (m *measurer) settledGate(on bool) state {
	best, least, swing := state{level: math.NaN()}, math.Inf(1), m.r.gHigh-m.r.gLow
	for k := range len(m.r.events) + 1 {
		if m.r.conducts(k) != on {
			continue
		}
		s := m.r.rest(m.r.g, k, swing, m.opt.Level)
		u := s.u(m.r.g, m.r.grain[result.Vgs])
		if u < least {
			best, least = s, u
		}
		if least <= restTol*swing {
			break
		}
	}
	return best
}

func (m *measurer) noGate() *waveform.Warning {
	return &waveform.Warning{Code: waveform.NotInRecord, Channel: string(result.Vgs), Text: "no trace has the role vgs"}
}

// gateU gives a gate voltage its uncertainty: gain, zero and noise.
func (m *measurer) gateU(q reading, noise doubt) reading {
	if math.IsNaN(q.value) {
		return q
	}
	q.budgeted([]result.Contribution{
		m.gainOf(result.Vgs, q.value),
		m.zeroOf(result.Vgs, m.r.g, 1),
		{Source: noiseSource, U: noise.spread, Unit: "V", Effect: noise.spread, Scope: result.OfReading, Basis: fromCapture},
		{Source: chosenSource, U: math.Abs(noise.shift), Unit: "V", Effect: noise.shift, Scope: result.OfSetup, Basis: fromCapture},
	})
	return q
}

func gateExtreme(tr *waveform.Trace, iv waveform.Interval, extreme func(*waveform.Trace, waveform.Interval) (y, t float64), def string) reading {
	y, t := extreme(tr, iv)
	if math.IsNaN(y) {
		return missing(def, &waveform.Warning{Code: waveform.ClippedWindow, Channel: string(result.Vgs), Over: iv,
			Text: "a sample of the gate is over range or missing: its extremes are not known"})
	}
	return reading{value: y, form: extremeForm, role: result.Vgs, looked: iv, over: waveform.Interval{From: t, To: t}, def: def}
}

package dpt

import (
	"cmp"
	"fmt"
	"math"

	"slewbook/dpt/result"
	"slewbook/waveform"
	"slewbook/waveform/unit"
)

// The gate has a plateau if it moves by less than plateauMove of its swing while v
// passes from one state to the other; it lasts as long as the gate stays within
// plateauBand of the swing (or of its noise) of it.
const (
	plateauMove = 0.1
	plateauBand = 0.05
)

// plateauDef tells the bound, not what it came to: shots of one definition can be
// compared.
const plateauDef = "time within 5 % of its swing, or 4 sigma of its noise if that is more, of the plateau"

// gateSources lists what moves a reading of the gate alone.
func (m *measurer) gateSources() []source {
	return []source{
		{"gain of vgs", "1", result.Vgs, m.gainU(result.Vgs), result.OfSetup, func(e *edge, x float64) {
			e.g, e.gLow, e.gHigh = change(e.g, 1+x, 0), e.gLow*(1+x), e.gHigh*(1+x)
		}},
		{"zero of vgs", "V", result.Vgs, m.offsetU(result.Vgs, m.r.g), result.OfSetup, func(e *edge, x float64) {
			e.g, e.gLow, e.gHigh = change(e.g, 1, x), e.gLow+x, e.gHigh+x
		}},
		{"delay of vgs", "s", result.Vgs, m.unseenDelayU(result.Vgs), result.OfSetup, func(e *edge, x float64) { e.g.T0 += x }},
	}
}

// gateAt reads what the gate does at an edge.
func (m *measurer) gateAt(e *edge) {
	if e.g == nil {
		w := m.noGate()
		for _, key := range gateKeys(e.kind) {
			m.read[key] = missing("", w)
		}
		return
	}
	near := *e
	near.inputs = m.gateSources()
	m.varied(&near, 0, []result.Role{result.Vgs}, func(e *edge, q map[string]reading) {
		keys := gateKeys(e.kind)
		q[keys[0]], q[keys[1]] = e.plateau()
		q[keys[2]] = e.gateOvershoot()
	})
	for _, key := range gateKeys(e.kind) {
		if q := m.read[key]; !math.IsNaN(q.value) && q.u == 0 {
			m.read[key] = missing(q.def, &waveform.Warning{Code: waveform.DelayUnknown, Channel: string(result.Vgs), Over: q.over,
				Text: fmt.Sprintf("with vgs moved by %s, to which its delay is known, there is no such reading", unit.Format(m.unseenDelayU(result.Vgs).u, "s", 2))})
		}
	}
}

// gateKeys are the columns of the gate at an edge: level and length of the plateau,
// overshoot.
func gateKeys(kind result.Edge) [3]string {
	if kind == result.TurnOff {
		return [3]string{"vgs_plateau_off", "t_plateau_off", "vgs_undershoot"}
	}
	return [3]string{"vgs_plateau_on", "t_plateau_on", "vgs_overshoot"}
}

// plateau reads the level that the gate keeps while v moves, as the mean from v 90 to
// 10 % (turn-on; turn-off the other way round), and how long it keeps it. (The plateau
// of the gate charge, IEC 60747-8, from memory; with a channel that is saturated its
// level is that of the load current.)
func (e *edge) plateau() (level, length reading) {
	a, b := v(90), v(10)
	if e.kind == result.TurnOff {
		a, b = b, a
	}
	levelDef := fmt.Sprintf("mean of vgs from %s to %s", a, b)
	none := func(ws ...*waveform.Warning) (reading, reading) {
		level, length := missing(levelDef, nil), missing(plateauDef, nil)
		level.warn(ws...)
		length.warn(ws...)
		return level, length
	}
	from, wa := e.crossing(a)
	to, wb := e.crossing(b)
	if wa != nil || wb != nil || !(to > from) {
		return none(wa, wb)
	}
	over := waveform.Interval{From: from, To: to}
	mean := waveform.Integral(e.g, over) / over.Duration()
	swing := e.gHigh - e.gLow
	if math.IsNaN(swing) {
		return none(e.noGate())
	}
	moved := math.Abs(waveform.FitLine(e.g, over).Slope) * over.Duration()
	switch {
	case math.IsNaN(mean + moved):
		return none(&waveform.Warning{Code: waveform.ClippedWindow, Channel: string(result.Vgs), Over: over, Text: "vgs is over range or missing while v moves, or holds fewer than two samples there"})
	case !(moved < plateauMove*swing):
		return none(&waveform.Warning{Code: waveform.LevelNotReached, Channel: string(result.Vgs), Over: over,
			Text: fmt.Sprintf("vgs moves by %s while v does, more than a tenth of its swing: there is no plateau", unit.Format(moved, "V", 2))})
	}
	sigma := e.grain[result.Vgs].sigma
	band := max(plateauBand*swing, restSigma*sigma)
	stay := e.within(mean, band, (from+to)/2)
	if !(stay.Duration() >= over.Duration()/2) {
		if w := lost(result.Vgs, e.g, e.gate, "how long the gate keeps its plateau"); w != nil && math.IsNaN(stay.Duration()) {
			return none(w)
		}
		return none(&waveform.Warning{Code: waveform.LevelNotReached, Channel: string(result.Vgs), Over: over,
			Text: fmt.Sprintf("vgs keeps within %s of its mean for %s only while v moves: there is no plateau", unit.Format(band, "V", 2), unit.Format(max(stay.Duration(), 0), "s", 2))})
	}
	n := math.Sqrt(over.Duration() / e.g.Dt)
	level = reading{value: mean, over: over, def: levelDef, noise: sigma / n}
	length = reading{value: stay.Duration(), over: stay, noise: math.Hypot(e.slant(stay.From, sigma), e.slant(stay.To, sigma)),
		def: plateauDef}
	return level, length
}

// within returns the stretch around t in which the gate stays within band of a
// level.
func (e *edge) within(level, band, t float64) waveform.Interval {
	before := waveform.Interval{From: e.gate.From, To: t}
	after := waveform.Interval{From: t, To: e.gate.To}
	last, first := math.NaN(), math.NaN()
	for _, x := range []struct {
		y         float64
		in, leave waveform.Slope
	}{{level - band, waveform.Rising, waveform.Falling}, {level + band, waveform.Falling, waveform.Rising}} {
		if t := waveform.LastCrossing(e.g, x.y, x.in, before); !(t <= last) && t == t {
			last = t
		}
		if t := waveform.FirstCrossing(e.g, x.y, x.leave, after); !(t >= first) && t == t {
			first = t
		}
	}
	return waveform.Interval{From: last, To: first}
}

// slant is what a standard deviation sigma of a sample does to an instant at which
// the gate passes a level [s]; at most a sample's interval where it jumps.
func (e *edge) slant(t, sigma float64) float64 {
	slope, _ := local(e.g, t, sigma)
	return sigma / math.Abs(slope)
}

// gateOvershoot reads how far the gate goes beyond the level that it settles at after
// the edge, up to the middle of the stay.
func (e *edge) gateOvershoot() reading {
	half := waveform.Interval{From: e.gate.From, To: part(e.search, 0, 0.5).To}
	y, t := waveform.Max(e.g, half)
	value, def := y-e.gHigh, "largest vgs after the turn-on less its upper level"
	if e.kind == result.TurnOff {
		y, t = waveform.Min(e.g, half)
		value, def = e.gLow-y, "lower level of vgs less its smallest after the turn-off"
	}
	if math.IsNaN(value) {
		return missing(def, cmp.Or(lost(result.Vgs, e.g, half, "the gate's extreme after the edge"), e.noGate()))
	}
	return reading{value: value, over: waveform.Interval{From: t, To: t}, def: def, noise: e.grain[result.Vgs].sigma}
}

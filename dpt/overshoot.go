package dpt

import (
	"fmt"
	"math"

	"slewbook/dpt/result"
	"slewbook/dpt/uncertainty"
	"slewbook/waveform"
	"slewbook/waveform/unit"
)

const overshootDef = "∫(v - v_bus)dt over the first overshoot / change of i meanwhile; capacitance of the freewheeling device, its forward recovery and the loop's resistance are in it"

// overshootInductance reads the loop inductance outside the sense points from the
// first overshoot of v at turn-off,
//
//	L = ∫(v - v_bus)dt / (i(t1) - i(t2))
//
// between the two passages of v through the bus voltage. At the second, where
// v = v_bus, the current stands still, so that only the first asks for a delay that
// is known. (Overshoot = L·di/dt: a module maker's note, text seen; its integral:
// common practice.)
func (e *edge) overshootInductance() reading {
	rise := waveform.FirstCrossing(e.v, e.bus.level, waveform.Rising, e.search)
	back := waveform.FirstCrossing(e.v, e.bus.level, waveform.Falling, waveform.Interval{From: rise, To: e.search.To})
	over := waveform.Interval{From: rise, To: back}
	none := func(text string) reading {
		return missing(overshootDef, &waveform.Warning{Code: waveform.LevelNotReached, Channel: string(result.Vds), Over: e.search, Text: text})
	}
	if !(over.Duration() > 3*e.v.Dt) {
		return none("v does not rise above the bus voltage and come back to it: no overshoot to read an inductance from")
	}
	change := e.i.At(rise) - e.i.At(back)
	flux := waveform.Integral(e.v, over) - e.bus.level*over.Duration()
	if !(change > 0.1*e.load) || !(flux > 0) {
		return none(fmt.Sprintf("the current changes by %.3g A only during the overshoot of v", change))
	}
	l := flux / change
	n := math.Sqrt(over.Duration() / e.v.Dt)
	noise := l * math.Hypot(n*e.grain[result.Vds].summed()*e.v.Dt/flux, math.Sqrt2*e.grain[result.Id].sigma/change)
	return reading{value: l, over: over, def: overshootDef, noise: noise, draw: func(d *result.Drawing) {
		d.Lines = append(d.Lines, result.Construction{Role: result.Id, Trace: straight("change of i, its delay taken out", over, e.i.At(rise), e.i.At(back))})
		d.Integrand = less("v - v_bus", e.v, over, func(float64) float64 { return e.bus.level })
	}}
}

// loops reads the loop inductance in the other ways, and how far the ways are apart.
func (m *measurer) loops(e *edge) {
	d := m.delays
	if d.mode == AlignOff || !d.current.sure {
		m.read["l_loop_overshoot"] = missing(overshootDef, m.unknownDelay("the delay of id is not known, and half a nanosecond of it moves this by a good part"))
	} else {
		aligned := e.moved(-d.left())
		m.varied(aligned, d.current.u, []result.Role{result.Vds, result.Id}, func(e *edge, q map[string]reading) { q["l_loop_overshoot"] = e.overshootInductance() })
	}
	m.loopSpread()
}

// loopSpread compares what the dip and the overshoot say of the loop inductance.
func (m *measurer) loopSpread() {
	const def = "l_loop_overshoot / l_loop - 1"
	dip, over := m.read["l_loop"], m.read["l_loop_overshoot"]
	if math.IsNaN(dip.value) || math.IsNaN(over.value) {
		m.read["l_loop_spread"] = missing(def, cmpWarning(dip, over))
		return
	}
	ratio := over.value / dip.value
	q := reading{value: ratio - 1, over: over.over, def: def}
	q.derived(uncertainty.Sum(uncertainty.Term{Factor: 1 / dip.value, Edge: "on", Budget: over.budget}, uncertainty.Term{Factor: -ratio / dip.value, Edge: "off", Budget: dip.budget}), dip, over)
	if math.Abs(q.value) > loopDoubt && math.Abs(q.value) > 2*q.u {
		q.warn(&waveform.Warning{Code: waveform.LoopDisagrees, Over: over.over,
			Text: fmt.Sprintf("the dip at turn-on says %s, the overshoot at turn-off %s: the first is the one to use, since no capacitance carries current past the sensor there",
				unit.Format(dip.value, "H", 3), unit.Format(over.value, "H", 3))})
	}
	m.read["l_loop_spread"] = q
}

// loopDoubt is the relative difference of two readings of the loop inductance from
// which it is told.
const loopDoubt = 0.25

// cmpWarning is the reason of the first of two readings that has no value.
func cmpWarning(a, b reading) *waveform.Warning {
	if math.IsNaN(a.value) {
		return firstWarning(a)
	}
	return firstWarning(b)
}

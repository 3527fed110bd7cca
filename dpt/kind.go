package dpt

import (
	"fmt"
	"math"
	"slices"

	"slewbook/dpt/result"
	"slewbook/waveform"
	"slewbook/waveform/unit"
)

// manyPulses is the most pulses of a multi-pulse test; more of them are periodic
// switching (common practice, no source).
const manyPulses = 8

// shortCircuit tells whether a record without an event is one of a device that
// carries a pulse of current while vds never falls, and what can be read of it.
func (r *record) shortCircuit() *waveform.Warning {
	v := make([]float64, 0, len(r.v.Y))
	for _, y := range r.v.Y {
		if y-y != 0 {
			return nil
		}
		v = append(v, y)
	}
	slices.Sort(v)
	bus := v[len(v)/2]
	// A few wild samples are no fall.
	if low := v[len(v)/1000]; !(low > onStatePart*bus) || !(bus > 10*pointNoise(r.v.Y)) {
		return nil
	}
	zero := waveform.Level(r.i.Samples(part(r.i.Span(), 0, 0.05)), waveform.Shorth)
	i := change(r.i, 1, -zero)
	peak, at := waveform.Max(i, r.span())
	if !(peak > 20*pointNoise(i.Y)) || !(bus*peak > 0) {
		return nil
	}
	from := waveform.LastCrossing(i, peak/10, waveform.Rising, waveform.Interval{From: i.T0, To: at})
	to := waveform.FirstCrossing(i, peak/10, waveform.Falling, waveform.Interval{From: at, To: i.Span().To})
	over := waveform.Interval{From: from, To: to}
	text := fmt.Sprintf("this is no double pulse: id rises to %s while vds stays above %s, as in a short circuit", unit.Format(peak, "A", 4), unit.Format(onStatePart*bus, "V", 3))
	if e := waveform.ProductIntegral(r.v, i, over); !math.IsNaN(e) {
		text += fmt.Sprintf("; from i 10 %% to i 10 %% of the peak it lasts %s and takes %s", unit.Format(over.Duration(), "s", 3), unit.Format(e, "J", 3))
	} else {
		text += "; it does not end within the record, so its energy is not known"
	}
	return &waveform.Warning{Code: waveform.NotDoublePulse, Over: over, Text: text}
}

// periodic warns where the record holds more pulses than a test of single
// pulses has: the quantities are those of the pulses asked for all the same.
func (m *measurer) periodic() {
	pulses := 0
	for _, ev := range m.r.events {
		if ev.Edge == result.TurnOn {
			pulses++
		}
	}
	if pulses <= manyPulses {
		return
	}
	first, last := m.r.moves[0].T, m.r.moves[len(m.r.moves)-1].T
	m.warn(waveform.NotDoublePulse, "", waveform.Interval{From: first, To: last},
		"the record holds %d pulses, one in %s on average: this is periodic switching or a start-up and no double pulse; the quantities are those of the pulses that were picked, whose devices may be hot",
		pulses, unit.Format((last-first)/float64(pulses), "s", 3))
}

// slowPart is the part of a record that a switching event's passage from 35 to
// 65 % of the voltage takes at most: one that is recorded so closely shows neither
// state.
const slowPart = 0.1

// slowPassage warns where the only event is a passage of v that takes a good part of
// the record, as of a bus that is charged or discharged.
func (m *measurer) slowPassage() {
	if len(m.r.moves) != 1 {
		return
	}
	over := m.r.moves[0].Dur
	if over.Duration() > slowPart*m.r.span().Duration() {
		m.warn(waveform.NotDoublePulse, result.Vds, over,
			"v takes %s from 35 to 65 %% of its swing, a tenth of the record or more: this is no switching event but a bus that is charged or discharged, as at a start-up, or the record shows too little of an edge",
			unit.Format(over.Duration(), "s", 3))
	}
}

// unclamped tells whether the record is of a load that discharges through the
// device: between a turn-off and a fall of v the current ramps down to nothing while
// v is at its largest.
func (r *record) unclamped(method waveform.LevelMethod) *waveform.Warning {
	for k := 1; k < len(r.moves); k++ {
		iv := r.stay(k)
		if r.conducts(k) {
			continue
		}
		line := waveform.FitLine(r.i, part(iv, 0.2, 0.8))
		first, last := line.At(iv.From), line.At(iv.To)
		if !(first > 20*pointNoise(r.i.Y)) || math.Abs(last) > 0.2*first || line.Residual > 0.05*first {
			continue
		}
		e := waveform.ProductIntegral(r.v, r.i, iv)
		return &waveform.Warning{Code: waveform.NotDoublePulse, Over: iv,
			Text: fmt.Sprintf("this is no double pulse: after the turn-off id ramps down from %s to nothing while vds stands at %s, as of a load that nothing clamps (avalanche); it lasts %s and takes %s",
				unit.Format(first, "A", 4), unit.Format(waveform.Level(r.v.Samples(part(iv, 0.2, 0.8)), method), "V", 4), unit.Format(iv.Duration(), "s", 3), unit.Format(e, "J", 3))}
	}
	return nil
}

// faultPart is how many times the load current that its ramp foretells a current
// is that no load carries.
const faultPart = 1.5

// faultUnderLoad tells whether a turn-off is the voltage of a device that a short
// circuit takes out of its on-state: the current rises far above the load's ramp before
// v does, and stays there while v is at the bus.
func (r *record) faultUnderLoad(method waveform.LevelMethod) *waveform.Warning {
	for k, ev := range r.events {
		if ev.Edge != result.TurnOff {
			continue
		}
		e := r.newEdge(k, method)
		rise := e.duration(v(10), v(90))
		if math.IsNaN(rise.value) {
			continue
		}
		after := waveform.Interval{From: rise.over.To, To: min(rise.over.To+5*rise.value, e.search.To)}
		low, _ := waveform.Min(e.i, after)
		if !(low > faultPart*e.load) {
			continue
		}
		peak, top := waveform.Max(e.i, e.search)
		end := waveform.FirstCrossing(e.i, peak/10, waveform.Falling, waveform.Interval{From: top, To: e.search.To})
		over := waveform.Interval{From: rise.over.From, To: end}
		text := fmt.Sprintf("this is no double pulse: at %s id rises to %s, far above the load current of %s, and stays there while vds is at %s, as in a short circuit under load",
			at(rise.over.From), unit.Format(peak, "A", 4), unit.Format(e.load, "A", 3), unit.Format(e.bus.level, "V", 4))
		if energy := waveform.ProductIntegral(r.v, r.i, over); !math.IsNaN(energy) {
			text += fmt.Sprintf("; from v 10 %% to i 10 %% of the peak it lasts %s and takes %s", unit.Format(over.Duration(), "s", 3), unit.Format(energy, "J", 3))
		}
		return &waveform.Warning{Code: waveform.NotDoublePulse, Over: over, Text: text}
	}
	return nil
}

// planTol is how far from the planned bus voltage a test may be run, as a
// factor, before a wrong probe factor is the likelier reason.
const planTol = 1.5

// plan warns where the bus voltage is far from the planned one.
func (m *measurer) plan() {
	e := m.off
	if e == nil {
		e = m.on
	}
	for _, c := range m.opt.Conditions {
		if c.Key != "v_bus" || e == nil {
			continue
		}
		if f := e.bus.level / c.Value; f > planTol || f < 1/planTol {
			m.warn(waveform.ScaleSuspect, result.Vds, e.bus.over,
				"vds blocks %s, %.3g times the planned bus voltage of %s (circuit.v_bus): a probe factor that is applied twice or not at all is the first suspect; check channel.vds.scale",
				unit.Format(e.bus.level, "V", 4), f, unit.Format(c.Value, "V", 4))
		}
	}
}

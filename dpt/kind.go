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

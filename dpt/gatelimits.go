package dpt

import (
	"fmt"
	"math"

	"slewbook/dpt/result"
	"slewbook/waveform"
	"slewbook/waveform/unit"
)

// GateLimits are a device's limits of the gate voltage [V]; 0 where they are
// not known.
// Sheets give two tiers: for good, and for a transient (makers' sheets of SiC
// and GaN devices, text seen).
type GateLimits struct {
	Max, Min               float64 // static
	DynamicMax, DynamicMin float64 // transient
	Threshold              float64 // lowest gate threshold at the temperature of the test
}

// beyondLimits reads for how long at a stretch the gate is beyond its limits.
func (m *measurer) beyondLimits() {
	l := m.opt.Gate
	for _, x := range []struct {
		key   string
		limit float64
		above bool
	}{
		{"t_vgs_above", l.Max, true}, {"t_vgs_below", l.Min, false},
		{"t_vgs_above_dynamic", l.DynamicMax, true}, {"t_vgs_below_dynamic", l.DynamicMin, false},
	} {
		switch {
		case x.limit == 0:
		case m.r.g == nil:
			m.read[x.key] = missing("", m.noGate())
		default:
			m.read[x.key] = m.beyond(x.limit, x.above)
		}
	}
}

// beyond reads the longest stretch of the record in which the gate is beyond a limit; its
// uncertainty is what gain, zero and noise do to it, and one sample.
func (m *measurer) beyond(limit float64, above bool) reading {
	word := "above"
	if !above {
		word = "below"
	}
	runs := stretchesBeyond(m.r.g, limit, above)
	def := fmt.Sprintf("longest stretch of vgs %s %s", word, unit.Format(limit, "V", 4))
	if len(runs) > 1 {
		def += fmt.Sprintf(", of %d, %s in all", len(runs), unit.Format(total(runs), "s", 3))
	}
	q := reading{over: longest(runs), def: def}
	if y, _ := waveform.Max(m.r.g, m.r.g.Span()); math.IsNaN(y) {
		return missing(def, &waveform.Warning{Code: waveform.ClippedWindow, Channel: string(result.Vgs), Over: m.r.g.Span(),
			Text: "a sample of the gate is over range or missing: how long it was beyond its limits is not known"})
	}
	q.value = q.over.Duration()
	if len(runs) == 0 {
		q.value, q.over = 0, m.r.g.Span()
	}
	at := func(limit float64) float64 { return longest(stretchesBeyond(m.r.g, limit, above)).Duration() }
	effect := func(u float64) float64 { return moved(q.value, at(limit-u), at(limit+u)) }
	gain, zero, noise := m.gainOf(result.Vgs, math.Abs(limit)), m.zeroOf(result.Vgs, m.r.g, 1), m.r.grain[result.Vgs].sigma
	gain.Effect, zero.Effect = effect(gain.Effect), effect(zero.Effect)
	q.budgeted([]result.Contribution{
		gain, zero,
		{Source: noiseSource, U: noise, Unit: "V", Effect: effect(noise), Scope: result.OfReading, Basis: fromCapture},
		{Source: "sampling", U: m.r.g.Dt / math.Sqrt(3), Unit: "s", Effect: m.r.g.Dt / math.Sqrt(3), Scope: result.OfReading, Basis: fromCapture},
	})
	return q
}

// stretchesBeyond lists the stretches of a trace above (or below) a level, their ends
// by linear interpolation.
func stretchesBeyond(tr *waveform.Trace, level float64, above bool) []waveform.Interval {
	in, out := waveform.Rising, waveform.Falling
	if !above {
		in, out = out, in
	}
	var runs []waveform.Interval
	span := tr.Span()
	from := span.From
	if len(tr.Y) > 0 && (tr.Y[0] > level) != above {
		from = waveform.FirstCrossing(tr, level, in, span)
	}
	for !math.IsNaN(from) {
		to := waveform.FirstCrossing(tr, level, out, waveform.Interval{From: from, To: span.To})
		if math.IsNaN(to) {
			return append(runs, waveform.Interval{From: from, To: span.To})
		}
		runs = append(runs, waveform.Interval{From: from, To: to})
		from = waveform.FirstCrossing(tr, level, in, waveform.Interval{From: to, To: span.To})
	}
	return runs
}

// longest returns the longest of some intervals, an empty one at 0 if there is none.
func longest(runs []waveform.Interval) waveform.Interval {
	var best waveform.Interval
	for _, r := range runs {
		if r.Duration() > best.Duration() {
			best = r
		}
	}
	return best
}

func total(runs []waveform.Interval) float64 {
	sum := 0.0
	for _, r := range runs {
		sum += r.Duration()
	}
	return sum
}

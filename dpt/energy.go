package dpt

import (
	"fmt"
	"math"

	"slewbook/dpt/result"
	"slewbook/waveform"
	"slewbook/waveform/unit"
)

// recrossTol is the relative change of an energy from which a later crossing
// of the end level is told.
const recrossTol = 0.01

// energy reads ∫ v·i dt over a named window [J]: terminal energy at the sense
// points, with the charge of capacitances in it.
func (e *edge) energy(w result.Window) reading {
	q := reading{value: math.NaN(), over: nowhere, def: w.Name, form: energyForm, ends: []result.Limit{w.Start, w.End}}
	from, warn := e.crossing(w.Start)
	if warn != nil {
		q.warn(warn)
		return q
	}
	to, ahead, warn := e.windowEnd(w, from)
	if warn != nil {
		q.warn(warn)
		return q
	}
	q.ahead = ahead
	q.over = waveform.Interval{From: from, To: to}
	if to < from {
		q.warn(e.inverted(w.Start, w.End, q.over))
		return q
	}
	q.value = waveform.ProductIntegral(e.v, e.i, q.over)
	if math.IsNaN(q.value) {
		q.warn(e.voided(q.over))
		return q
	}
	if e.again {
		return q
	}
	q.perDelay = -changeIntegral(e.v, e.i, q.over)
	if q.value < 0 {
		q.warn(&waveform.Warning{Code: waveform.EnergyImplausible, Over: q.over,
			Text: fmt.Sprintf("a negative energy (%s) is no loss. What was looked at", joules(q.value))})
	}
	if w.Duration <= 0 && w.Rule == result.FirstEnd && w.Tail == 0 {
		q.warn(e.recrossed(w, q))
	}
	return q
}

// changeIntegral returns ∫ v di over iv: straight lines between the samples of
// i, v at their middles [W]. Its negative is how the energy changes with a lag of
// the current, dE/dτ = -∫ v di (derived).
func changeIntegral(v, i *waveform.Trace, iv waveform.Interval) float64 {
	sum := 0.0
	t, y := iv.From, i.At(iv.From)
	lo, hi := i.Indices(iv)
	for k := lo; k <= hi; k++ {
		u, z := iv.To, i.At(iv.To)
		if k < hi {
			u, z = i.Time(k), i.Y[k]
		}
		sum += v.At((t+u)/2) * (z - y)
		t, y = u, z
	}
	return sum
}

// voided tells why the energy over iv has no value.
func (e *edge) voided(iv waveform.Interval) *waveform.Warning {
	for _, tr := range []*waveform.Trace{e.v, e.i} {
		lo, hi := tr.Indices(iv)
		for k := lo; k < hi; k++ {
			if y := tr.Y[k]; y-y != 0 {
				return &waveform.Warning{Code: waveform.ClippedWindow, Channel: tr.Name, Over: iv,
					Text: fmt.Sprintf("trace %q is over range or missing at %s, inside the window", tr.Name, at(tr.Time(k)))}
			}
		}
	}
	return &waveform.Warning{Code: waveform.NotInRecord, Over: iv,
		Text: fmt.Sprintf("the window from %s to %s reaches out of the record", at(iv.From), at(iv.To))}
}

// recrossed warns where the signal comes back beyond the end level after its
// first crossing, by more than its noise, and the energy up to the last crossing
// differs.
func (e *edge) recrossed(w result.Window, q reading) *waveform.Warning {
	last := e.lastPassed(w.End, q.over.To)
	if !(last > q.over.To) {
		return nil
	}
	later := waveform.ProductIntegral(e.v, e.i, waveform.Interval{From: q.over.From, To: last})
	if !(math.Abs(later-q.value) > recrossTol*math.Abs(q.value)) {
		return nil
	}
	return &waveform.Warning{Code: waveform.Recrossed, Channel: string(w.End.Signal), Over: waveform.Interval{From: q.over.To, To: last},
		Text: fmt.Sprintf("%s is passed again up to %s: %s to the first crossing, %s to the last", w.End, at(last), joules(q.value), joules(later))}
}

// joules writes an energy for a message.
func joules(e float64) string { return unit.Format(e, "J", 4) }

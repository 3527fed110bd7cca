package dpt

import (
	"fmt"
	"math"

	"slewbook/dpt/result"
	"slewbook/waveform"
)

// recovery reads the recovery of the freewheeling device off the current of the
// device under test: what flows beyond the load current is the partner's reverse
// current. It begins where i first exceeds the load current and ends where it
// first comes back to it (the first of the three rules of the JEDEC dictionary
// for t_rr: return to zero; text seen). The charge of the partner's capacitance,
// and of whatever lies parallel to the load, is in it and cannot be told apart.
func (e *edge) recovery() (irrm, trr, qrr reading) {
	const def = "first lobe of i above the load current, capacitive charge included"
	none := func(w *waveform.Warning) (reading, reading, reading) {
		return missing(def, w), missing(def, w), missing(def, w)
	}
	from, w := e.crossing(i(50))
	if w != nil {
		return none(w)
	}
	lo, hi := e.i.Indices(waveform.Interval{From: from, To: e.search.To})
	slope := e.line.line.Slope / (e.line.bus - e.line.vOn)
	load := e.load
	start, last, peak, top, charge := math.NaN(), math.NaN(), 0.0, math.NaN(), 0.0
	for k := lo; k < hi; k++ {
		t := e.i.Time(k)
		if v := e.v.At(t); v == v {
			load += slope * (e.bus.level - v) * e.i.Dt
		}
		x := e.i.Y[k] - load
		if x-x != 0 {
			return none(&waveform.Warning{Code: waveform.ClippedWindow, Channel: string(result.Id), Over: waveform.Interval{From: from, To: t},
				Text: fmt.Sprintf("id is over range or missing at %s, in the recovery", at(t))})
		}
		switch {
		case math.IsNaN(start) && x > 0:
			if math.IsNaN(last) {
				last = 0
			}
			start = t - e.i.Dt*x/(x-last)
			charge = x * (t - start) / 2
		case !math.IsNaN(start) && x > 0:
			charge += (x + last) / 2 * e.i.Dt
		case !math.IsNaN(start):
			end := t - e.i.Dt*x/(x-last)
			charge += last * (end - t + e.i.Dt) / 2
			over := waveform.Interval{From: start, To: end}
			return reading{value: peak, over: waveform.Interval{From: top, To: top}, def: def},
				reading{value: end - start, over: over, def: def}, reading{value: charge, over: over, def: def}
		}
		if x > peak {
			peak, top = x, t
		}
		last = x
	}
	return none(&waveform.Warning{Code: waveform.LevelNotReached, Channel: string(result.Id), Over: waveform.Interval{From: from, To: e.search.To},
		Text: "the current does not rise above the load current and come back to it: no recovery can be told from it"})
}

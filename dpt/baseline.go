package dpt

import (
	"fmt"
	"math"

	"slewbook/dpt/result"
	"slewbook/waveform"
)

// minQuiet is the fewest samples that a zero is read from.
const minQuiet = 20

// zero reads the current's zero while the device blocks: before the first
// pulse where the record holds it, since later a tail or a leak may flow, else
// in the first gap. It returns the zero, how far the zero read in the last other
// blocking stay is from it, and a warning where there is no quiet stretch.
//
// A stretch over that is given is used instead, whatever it holds.
func (r *record) zero(method waveform.LevelMethod, over waveform.Interval) (z state, drift float64, w *waveform.Warning) {
	if over.To > over.From {
		z = state{level: waveform.Level(r.i.Samples(over), method), over: over}
		if math.IsNaN(z.level) {
			w = &waveform.Warning{Code: waveform.NoBaseline, Channel: string(result.Id), Over: over,
				Text: "the interval given for the zero of the current holds no samples, or some that are over range or missing: the zero is taken as the file gives it"}
		}
		return z, math.NaN(), w
	}
	z = state{level: math.NaN()}
	drift = math.NaN()
	swing := 0.0
	for _, y := range r.i.Y {
		if a := math.Abs(y); !math.IsInf(y, 0) && a > swing {
			swing = a
		}
	}
	for k := range len(r.events) + 1 {
		if r.conducts(k) {
			continue
		}
		s := r.rest(r.i, k, swing, method)
		if len(r.i.Samples(s.over)) < minQuiet || math.IsNaN(s.level) {
			continue
		}
		if math.IsNaN(z.level) {
			z = s
		} else {
			drift = s.level - z.level
		}
	}
	if math.IsNaN(z.level) {
		w = &waveform.Warning{Code: waveform.NoBaseline, Channel: string(result.Id),
			Text: fmt.Sprintf("no stretch of %d samples in which the device blocks and the current is at rest: the zero of the current is taken as the file gives it", minQuiet)}
	}
	return z, drift, w
}

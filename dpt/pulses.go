package dpt

import (
	"fmt"
	"math"
	"slices"

	"slewbook/dpt/result"
	"slewbook/waveform"
)

// Hysteresis of the event finder, as fractions of the swing between the two
// states, and how many passages a stay in a state must last at least. A stay
// between two passages of a ringing lasts 3 to 5 times its passages, a pulse
// or a gap ten times and more.
const (
	hysteresisLow  = 0.35
	hysteresisHigh = 0.65
	stayPassages   = 8
	onStatePart    = 0.4   // an on-state, with its probe's error, is below this part of the bus
	maxTransitions = 20000 // beyond it the record is no double-pulse test
)

// findEvents finds the switching events from the drain-source voltage, which
// alone shows every one, and lets the gate, where there is one, say when each
// was commanded. Voltage dips, ringing through the thresholds and probe errors
// of the on-state are met by hysteresis between states found in the record
// itself, and by the least duration of a stay.
func (r *record) findEvents() error {
	r.vLow, r.vHigh = waveform.States(r.v.Y, waveform.Shorth)
	if r.g != nil {
		r.gLow, r.gHigh = waveform.States(r.g.Y, waveform.Shorth)
	}
	if !(r.vHigh > r.vLow) {
		return fmt.Errorf("vds (trace %q) stays at one level: no switching event in the record", r.v.Name)
	}
	if noise := pointNoise(r.v.Y); r.vHigh-r.vLow < 10*noise {
		return fmt.Errorf("vds (trace %q) moves by %.3g V between two levels, but its noise is %.2g V: no switching event can be told",
			r.v.Name, r.vHigh-r.vLow, noise)
	}
	if a, b := math.Abs(r.vLow), math.Abs(r.vHigh); min(a, b) > onStatePart*max(a, b) {
		return fmt.Errorf("vds (trace %q) moves between %.4g V and %.4g V, neither of them near zero as an on-state is: no switching event in the record", r.v.Name, r.vLow, r.vHigh)
	}
	moves, err := passages(r.v, r.vLow, r.vHigh)
	if err != nil {
		return err
	}
	if len(moves) == 0 {
		return fmt.Errorf("vds (trace %q) never passes from one of its levels (%.4g V, %.4g V) to the other and stays there", r.v.Name, r.vLow, r.vHigh)
	}
	r.moves = moves
	pulse := 0
	known := moves[0].Dir == waveform.Falling // the record begins before a pulse
	for k, m := range moves {
		ev := result.Event{Edge: result.TurnOff, T: m.T, Basis: "vds"}
		if m.Dir == waveform.Falling {
			ev.Edge = result.TurnOn
			pulse++
		} else if k == 0 {
			pulse++
		}
		ev.Pulse = pulse
		r.events = append(r.events, ev)
	}
	if !known && len(moves) < 2 || known && len(moves) == 1 {
		// One edge alone does not tell which pulse it belongs to.
		for k := range r.events {
			r.events[k].Pulse = 0
		}
	}
	r.findPartials()
	return nil
}

// passages returns the transitions between the states low and high that lead
// to a stay, shortest stays dropped first.
func passages(tr *waveform.Trace, low, high float64) ([]waveform.Transition, error) {
	swing := high - low
	moves := waveform.Transitions(tr, low+hysteresisLow*swing, low+hysteresisHigh*swing)
	if len(moves) > maxTransitions {
		return nil, fmt.Errorf("trace %q passes between its levels %d times: this is no double-pulse test", tr.Name, len(moves))
	}
	for {
		worst, shortest := -1, math.Inf(1)
		for k := 0; k+1 < len(moves); k++ {
			stay := moves[k+1].T - moves[k].T
			passage := max(min(moves[k].Dur.Duration(), moves[k+1].Dur.Duration()), tr.Dt)
			if stay < stayPassages*passage && stay < shortest {
				worst, shortest = k, stay
			}
		}
		if worst < 0 {
			return moves, nil
		}
		moves = slices.Delete(moves, worst, worst+2)
	}
}

// pointNoise estimates the noise of one sample from the median of the absolute
// second differences, which edges and ramps hardly touch: for white noise
// their standard deviation is √6 σ, and the median of a normal deviate is
// 0.6745 of that.
func pointNoise(y []float64) float64 {
	if len(y) < 3 {
		return math.NaN()
	}
	step := max(len(y)/8192, 1)
	d := make([]float64, 0, len(y)/step+1)
	for k := 1; k+1 < len(y); k += step {
		if x := y[k-1] - 2*y[k] + y[k+1]; x-x == 0 {
			d = append(d, math.Abs(x))
		}
	}
	if len(d) == 0 {
		return math.NaN()
	}
	return waveform.Nth(d, len(d)/2) / (0.6745 * math.Sqrt(6))
}

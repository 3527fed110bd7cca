package dpt

import (
	"math"

	"slewbook/waveform"
)

// state is a level that a channel rests at, and the stretch it was read on.
type state struct {
	level float64           // NaN if it could not be read
	over  waveform.Interval // where
	left  float64           // when the channel left it for the next edge [s], NaN if it never rested
}

// tolerances of a channel at rest: it is within this part of its swing, or
// within so many standard deviations of its own noise, for this part of a stay.
const (
	restTol   = 0.02
	restSigma = 4
	restDwell = 0.01
)

// How many samples, at least, place that band: its middle, and its width by their noise,
// which so many tell to 4 %.
const (
	bandPoints    = 4096
	scatterPoints = 1024
)

// stay returns the stretch between event k-1 and event k, for k from 0 (before
// the first event) to len(events) (after the last).
func (r *record) stay(k int) waveform.Interval {
	iv := r.span()
	if k > 0 {
		iv.From = r.moves[k-1].T
	}
	if k < len(r.moves) {
		iv.To = r.moves[k].T
	}
	return iv
}

// rest reads the state in which a channel rests at the end of stay k. A first
// reading over the middle of the stay, robust against what is not at rest there,
// gives the band from which the channel departs for the next edge; the level is
// read again over the later half of what comes before that departure.
//
// What was read once is kept: traces do not change, and many readings ask for
// the same state.
func (r *record) rest(tr *waveform.Trace, k int, swing float64, method waveform.LevelMethod) state {
	key := restKey{tr, k, swing, method}
	s, ok := r.rests[key]
	if !ok {
		s = r.readRest(tr, k, swing, method)
		if r.rests == nil {
			r.rests = map[restKey]state{}
		}
		r.rests[key] = s
	}
	return s
}

// restKey is what a state at rest depends on.
type restKey struct {
	tr     *waveform.Trace
	k      int
	swing  float64
	method waveform.LevelMethod
}

func (r *record) readRest(tr *waveform.Trace, k int, swing float64, method waveform.LevelMethod) state {
	iv := r.stay(k)
	if k == len(r.moves) {
		late := part(iv, 0.5, 1)
		return state{waveform.Level(known(tr.Samples(late)), method), late, math.NaN()}
	}
	// What is lost is left out here, since this places the band only.
	first := waveform.Level(finite(waveform.Thinned(tr.Samples(part(iv, 0.3, 0.8)), bandPoints)), method)
	left := r.departure(tr, k, func(float64) float64 { return first }, restTol*swing)
	over := part(iv, 0.5, 0.9)
	if left > iv.From {
		over = part(waveform.Interval{From: iv.From, To: left}, 0.5, 0.95)
	}
	return state{waveform.Level(known(tr.Samples(over)), method), over, left}
}

// departure returns the last instant before event k at which the channel was
// still at rest: within tol of level, or of its noise, for the whole of a dwell
// before it. Ringing that leads in and out of the band is no rest. It is NaN
// if the channel never rests during the stay before the event.
func (r *record) departure(tr *waveform.Trace, k int, level func(t float64) float64, tol float64) float64 {
	iv := r.stay(k)
	tol = max(math.Abs(tol), restSigma*scatter(tr, part(iv, 0.4, 0.8), level))
	// An edge may be under way when v passes its middle, and a channel that
	// lags even begins later; the search walks back from there.
	lo, hi := tr.Indices(iv)
	need := max(int(restDwell*float64(hi-lo)), 3)
	run := 0
	for j := hi - 1; j >= lo; j-- {
		if !(math.Abs(tr.Y[j]-level(tr.Time(j))) <= tol) {
			run = 0
			continue
		}
		if run++; run >= need {
			return tr.Time(j + run - 1)
		}
	}
	return math.NaN()
}

// scatter estimates the standard deviation of a trace about a level that it
// rests at for most of iv, whatever the noise's spectrum: 1.4826 times the median
// of the absolute deviations.
func scatter(tr *waveform.Trace, iv waveform.Interval, level func(t float64) float64) float64 {
	lo, hi := tr.Indices(iv)
	step := max((hi-lo)/scatterPoints, 1)
	d := make([]float64, 0, (hi-lo)/step+1)
	for k := lo; k < hi; k += step {
		if x := math.Abs(tr.Y[k] - level(tr.Time(k))); x-x == 0 {
			d = append(d, x)
		}
	}
	if len(d) == 0 {
		return 0
	}
	return 1.4826 * waveform.Nth(d, len(d)/2)
}

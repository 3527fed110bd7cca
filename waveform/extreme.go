package waveform

import "math"

// Max returns the largest sample inside iv and its instant, NaN, NaN if there
// is none or if a sample there is not finite: the true extreme may be in it.
func Max(tr *Trace, iv Interval) (y, t float64) { return extreme(tr, iv, +1) }

// Min is Max for the smallest sample.
func Min(tr *Trace, iv Interval) (y, t float64) { return extreme(tr, iv, -1) }

func extreme(tr *Trace, iv Interval, sign float64) (y, t float64) {
	lo, hi := tr.Indices(iv)
	if lo >= hi {
		return math.NaN(), math.NaN()
	}
	best := lo
	for k := lo; k < hi; k++ {
		v := tr.Y[k]
		if v-v != 0 {
			return math.NaN(), math.NaN()
		}
		if sign*v > sign*tr.Y[best] {
			best = k
		}
	}
	return tr.Y[best], tr.Time(best)
}

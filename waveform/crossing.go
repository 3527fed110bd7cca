package waveform

import "math"

// Slope is the direction of a crossing.
type Slope int

// Directions.
const (
	Rising  Slope = +1
	Falling Slope = -1
)

// FirstCrossing returns the instant [s] at which the trace first passes the
// level in the given direction inside iv, by linear interpolation between the
// two samples (IEEE 181 reference-level instant). It is NaN if the trace does
// not pass it there, or if a sample that is not finite comes first: what
// happened in it is not known.
func FirstCrossing(tr *Trace, level float64, dir Slope, iv Interval) float64 {
	lo, hi := crossingIndices(tr, iv)
	before, way := false, float64(dir)
	for k := lo; k < hi; k++ {
		y := tr.Y[k]
		if y-y != 0 {
			return math.NaN()
		}
		now := way*y < way*level
		if before && !now {
			if t := crossesAt(tr, k-1, level); iv.Contains(t) {
				return t
			}
		}
		before = now
	}
	return math.NaN()
}

// LastCrossing is FirstCrossing seen from the end of iv.
func LastCrossing(tr *Trace, level float64, dir Slope, iv Interval) float64 {
	lo, hi := crossingIndices(tr, iv)
	after, way := true, float64(dir)
	for k := hi - 1; k >= lo; k-- {
		y := tr.Y[k]
		if y-y != 0 {
			return math.NaN()
		}
		now := way*y < way*level
		if now && !after {
			if t := crossesAt(tr, k, level); iv.Contains(t) {
				return t
			}
		}
		after = now
	}
	return math.NaN()
}

// crossingIndices is Indices widened to the samples just outside iv, whose
// segments may cross inside it.
func crossingIndices(tr *Trace, iv Interval) (lo, hi int) {
	lo, hi = tr.Indices(iv)
	return max(lo-1, 0), min(hi+1, len(tr.Y))
}

// crossesAt tells where the segment from sample k to k+1, which passes the level,
// does so. One that starts on the level has not passed it; one that ends on it has.
func crossesAt(tr *Trace, k int, level float64) float64 {
	a, b := tr.Y[k]-level, tr.Y[k+1]-level
	return tr.Time(k) + tr.Dt*(a/(a-b))
}

// Transition is a passage between two states that a Schmitt trigger saw.
type Transition struct {
	Dir Slope
	T   float64  // when it passed the middle between the thresholds, last [s]
	Dur Interval // from leaving the old state's threshold to reaching the new one's
}

// Transitions finds the passages between the states below lo and above hi with
// hysteresis: whatever stays between the thresholds is no passage. It serves
// to find events, not to place levels. Samples that are not finite keep the
// state, but for over-range ones: +Inf is above hi and -Inf below lo.
func Transitions(tr *Trace, lo, hi float64) []Transition {
	var out []Transition
	mid := (lo + hi) / 2
	state := Slope(0)
	left := 0 // last sample at which the state was certain
	for k, y := range tr.Y {
		var s Slope
		switch {
		case y <= lo:
			s = Falling
		case y >= hi:
			s = Rising
		default:
			continue
		}
		if state != 0 && s != state {
			iv := Interval{tr.Time(left), tr.Time(k)}
			t := LastCrossing(tr, mid, s, iv)
			if math.IsNaN(t) {
				t = (iv.From + iv.To) / 2
			}
			out = append(out, Transition{s, t, iv})
		}
		state, left = s, k
	}
	return out
}

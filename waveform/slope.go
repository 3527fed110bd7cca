package waveform

import "math"

// Line is a straight line y = Y0 + Slope·(t - T) with the residual of its fit.
type Line struct {
	T        float64 // reference instant [s], the middle of the fit
	Y0       float64 // value there [unit]
	Slope    float64 // [unit/s]
	Residual float64 // standard deviation about the line [unit]
	N        int     // samples fitted
}

// At returns the line's value at t.
func (l Line) At(t float64) float64 { return l.Y0 + l.Slope*(t-l.T) }

// FitLine fits a straight line to the samples inside iv by least squares. The
// line's fields are NaN for fewer than two samples or if one is not finite.
func FitLine(tr *Trace, iv Interval) Line {
	lo, hi := tr.Indices(iv)
	return fitSamples(tr, lo, hi)
}

func fitSamples(tr *Trace, lo, hi int) Line {
	n := hi - lo
	nan := math.NaN()
	if n < 2 || !allFinite(tr.Y[lo:hi]) {
		return Line{nan, nan, nan, nan, max(n, 0)}
	}
	mid := float64(n-1) / 2
	mean := Mean(tr.Y[lo:hi])
	sxy, sxx := 0.0, 0.0
	for k, y := range tr.Y[lo:hi] {
		x := float64(k) - mid
		sxy += x * (y - mean)
		sxx += x * x
	}
	b := sxy / sxx
	ss := 0.0
	for k, y := range tr.Y[lo:hi] {
		r := y - mean - b*(float64(k)-mid)
		ss += r * r
	}
	res := 0.0
	if n > 2 {
		res = math.Sqrt(ss / float64(n-2))
	}
	return Line{tr.T0 + (float64(lo)+mid)*tr.Dt, mean, b / tr.Dt, res, n}
}

// SteepestFit returns the steepest line in the given direction among all
// least-squares lines through n neighbouring samples that lie inside iv, n >= 2.
// Its Slope is NaN if there is none, or if a sample is not finite.
func SteepestFit(tr *Trace, iv Interval, n int, dir Slope) Line {
	nan := math.NaN()
	lo, hi := tr.Indices(iv)
	if n < 2 || hi-lo < n || !allFinite(tr.Y[lo:hi]) {
		return Line{nan, nan, nan, nan, n}
	}
	// Slopes are those of Σ (k - mid)·y, which goes on from one line to the next by
	// its first and its last sample.
	y, way, mid := tr.Y[lo:hi], float64(dir), float64(n-1)/2
	sum, moment := 0.0, 0.0
	for k, v := range y[:n] {
		sum += v - y[0]
		moment += (float64(k) - mid) * (v - y[0])
	}
	at, steepest := 0, way*moment
	for k := range len(y) - n {
		first, last := y[k]-y[0], y[k+n]-y[0]
		moment += mid*(first+last) + first - sum
		sum += last - first
		if way*moment-steepest > 1e-12*math.Abs(steepest) { // the first of equal ones
			at, steepest = k+1, way*moment
		}
	}
	return fitSamples(tr, lo+at, lo+at+n)
}

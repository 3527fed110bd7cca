package reports

import (
	"math"

	"gonum.org/v1/plot/plotter"

	"slewbook/waveform"
)

// decimate returns the samples of tr inside iv as polylines with at most about
// four points for each of the columns: of every column the first, smallest,
// largest and last sample in the order of time, so that a peak one sample wide
// is drawn at its full height and its own time. One sample on each side of iv
// is kept, so that a line runs to the edge of its panel. A stretch without
// finite samples (missing or over range) breaks the line.
func decimate(tr *waveform.Trace, iv waveform.Interval, columns int) []plotter.XYs {
	lo, hi := tr.Indices(iv)
	lo, hi = max(lo-1, 0), min(hi+1, tr.Len())
	step := 1
	if hi-lo > 4*columns {
		step = (hi - lo + columns - 1) / columns
	}
	var lines []plotter.XYs
	var line plotter.XYs
	flush := func() {
		if len(line) > 0 {
			lines = append(lines, line)
		}
		line = nil
	}
	for a := lo; a < hi; a += step {
		picked, n := extremes(tr.Y, a, min(a+step, hi))
		if n == 0 {
			flush()
		}
		for _, k := range picked[:n] {
			line = append(line, plotter.XY{X: tr.Time(k), Y: tr.Y[k]})
		}
	}
	flush()
	return lines
}

// extremes returns the n indices in [a, b) of the first, smallest, largest and
// last finite sample, ascending and each once.
func extremes(y []float64, a, b int) (picked [4]int, n int) {
	first, last := -1, -1
	least, most := math.Inf(1), math.Inf(-1)
	var kLeast, kMost int
	for k := a; k < b; k++ {
		v := y[k]
		if v-v != 0 { // NaN or infinite
			continue
		}
		if first < 0 {
			first = k
		}
		last = k
		if v < least {
			least, kLeast = v, k
		}
		if v > most {
			most, kMost = v, k
		}
	}
	if first < 0 {
		return picked, 0
	}
	for _, k := range [4]int{first, min(kLeast, kMost), max(kLeast, kMost), last} {
		if n == 0 || k > picked[n-1] {
			picked[n] = k
			n++
		}
	}
	return picked, n
}

// overRange returns the intervals inside iv in which tr has samples that the
// instrument could not convert, at the top and at the bottom, joined over gaps
// shorter than a column.
func overRange(tr *waveform.Trace, iv waveform.Interval, columns int) (top, bottom []waveform.Interval) {
	lo, hi := tr.Indices(iv)
	gap := max(iv.Duration()/float64(columns), 1.5*tr.Dt)
	for k, y := range tr.Y[lo:hi] {
		if y-y == 0 { // finite, as nearly all are
			continue
		}
		switch {
		case math.IsInf(y, 1):
			top = extend(top, tr.Time(lo+k), gap)
		case math.IsInf(y, -1):
			bottom = extend(bottom, tr.Time(lo+k), gap)
		}
	}
	return top, bottom
}

// extend adds a time to the last interval if it is no further from it than gap,
// else as a new one.
func extend(ivs []waveform.Interval, t, gap float64) []waveform.Interval {
	if n := len(ivs); n > 0 && t-ivs[n-1].To <= gap {
		ivs[n-1].To = t
		return ivs
	}
	return append(ivs, waveform.Interval{From: t, To: t})
}

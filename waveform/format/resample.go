package format

import (
	"fmt"
	"math"

	"slewbook/waveform"
)

// Bounds of resampling.
const (
	// resampledTo is how far resampling may move a sample, as a share of its
	// channel's span.
	resampledTo = 1e-3
	// mostFiner is how many times more samples there may be afterwards, and
	// mostPoints how many in all.
	mostFiner  = 64
	mostPoints = 1 << 24
)

// evenGrid puts the vectors behind the first, the time, onto an even grid by
// linear interpolation, once, where the steps of the first are not equal. It
// halves the mean step until going back from the grid to the stamps of the file
// moves no sample by more than resampledTo of its channel's span.
func evenGrid(vs []vector, c *waveform.Capture) error {
	t := vs[0].y
	short, long := math.Inf(1), 0.0
	for k := 1; k < len(t); k++ {
		if !(t[k] >= t[k-1]) || math.IsInf(t[k], 0) {
			return fmt.Errorf("time goes back from %s to %s at point %d", seconds(t[k-1]), seconds(t[k]), k)
		}
		short, long = min(short, t[k]-t[k-1]), max(long, t[k]-t[k-1])
	}
	span := t[len(t)-1] - t[0]
	mean := span / float64(len(t)-1)
	if !(mean > 0) || math.IsInf(mean, 0) {
		return fmt.Errorf("time stands still")
	}
	if long-short <= slackSteps*mean {
		return nil
	}
	var grid []float64
	moved := 0.0
	for finer := 1; ; finer *= 2 {
		grid = evenTimes(t[0], span, finer*(len(t)-1)+1)
		moved = 0
		for _, v := range vs[1:] {
			moved = max(moved, moves(t, v.y, grid))
		}
		if moved <= resampledTo || finer == mostFiner || 2*finer*len(t) > mostPoints {
			break
		}
	}
	for k := 1; k < len(vs); k++ {
		vs[k].recorded = recordedOf(vs[k].y)
		vs[k].y = interpolate(t, vs[k].y, grid)
	}
	vs[0].y = grid
	dt := span / float64(len(grid)-1)
	c.Warnings = append(c.Warnings, waveform.Warning{Code: waveform.Resampled,
		Text: fmt.Sprintf("the time steps are not equal (%s to %s); resampled once every %s by linear interpolation, which moves no sample by more than %.2g %% of its channel's span",
			seconds(short), seconds(long), seconds(dt), 100*moved)})
	return nil
}

// recordedOf returns what the file holds before it is changed.
func recordedOf(y []float64) waveform.Recorded {
	r := waveform.Recorded{Points: len(y), Min: math.NaN(), Max: math.NaN()}
	for _, v := range y {
		if math.IsInf(v, 0) {
			r.OverRange++
		} else if v == v {
			if !(r.Min <= v) {
				r.Min = v
			}
			if !(r.Max >= v) {
				r.Max = v
			}
		}
	}
	return r
}

// evenTimes returns n times from t0 on over the span.
func evenTimes(t0, span float64, n int) []float64 {
	grid := make([]float64, n)
	for i := range grid {
		grid[i] = t0 + span*float64(i)/float64(n-1)
	}
	grid[n-1] = t0 + span
	return grid
}

// moves returns how far y comes back from the grid at its own stamps t at the
// worst, as a share of its span.
func moves(t, y, grid []float64) float64 {
	r := recordedOf(y)
	if !(r.Max > r.Min) {
		return 0
	}
	back := interpolate(grid, interpolate(t, y, grid), t)
	worst := 0.0
	for k, v := range y {
		if d := math.Abs(back[k] - v); d > worst && !math.IsInf(d, 0) {
			worst = d
		}
	}
	return worst / (r.Max - r.Min)
}

// interpolate returns y(t) at the times of grid, which lie inside t. Between a
// sample over range and another one the result is over range.
func interpolate(t, y, grid []float64) []float64 {
	out := make([]float64, len(grid))
	k := 0
	for i, x := range grid {
		for k < len(t)-2 && t[k+1] < x {
			k++
		}
		f := 0.0
		if d := t[k+1] - t[k]; d > 0 {
			f = min(max((x-t[k])/d, 0), 1)
		}
		switch {
		case f == 0 || math.IsInf(y[k], 0) && f < 1:
			out[i] = y[k]
		case f == 1:
			out[i] = y[k+1]
		default:
			out[i] = y[k] + f*(y[k+1]-y[k])
		}
	}
	return out
}

// evenTraces resamples the traces whose stamps are not even; of, for each trace,
// are those stamps, nil where they are.
func evenTraces(c *waveform.Capture, of [][]float64) error {
	for i := 0; i < len(c.Traces); {
		n := i + 1
		if of[i] == nil {
			i = n
			continue
		}
		vs := []vector{{y: of[i]}, {y: c.Traces[i].Y}}
		for ; n < len(of) && len(of[n]) == len(of[i]) && &of[n][0] == &of[i][0]; n++ {
			vs = append(vs, vector{y: c.Traces[n].Y})
		}
		if err := evenGrid(vs, c); err != nil {
			return err
		}
		grid := vs[0].y
		for k, tr := range c.Traces[i:n] {
			tr.Y, tr.Recorded = vs[k+1].y, vs[k+1].recorded
			tr.T0, tr.Dt = grid[0], (grid[len(grid)-1]-grid[0])/float64(len(grid)-1)
		}
		i = n
	}
	return nil
}

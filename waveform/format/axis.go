package format

import (
	"fmt"
	"math"
	"slices"
	"sync"

	"slewbook/waveform"
	"slewbook/waveform/unit"
)

// axis is the even grid on which the samples of a file stand.
type axis struct {
	t0, dt   float64 // [s]
	rows     int     // rows that hold a stamp
	gaps     []gap
	uneven   []float64 // the stamps [s], where the samples are to be resampled by them
	warnings []waveform.Warning
}

// gap is a place where samples are missing from the file.
type gap struct {
	after   int // row before the gap
	missing int // samples that are not there
}

// axisError is why the stamps make no axis. row is the row it was seen at, -1
// for the file as a whole.
type axisError struct {
	row                 int
	found, expected, do string
}

// Bounds of what is taken for an even axis.
const (
	// slackSteps is a departure from the grid, in sample intervals, that
	// changes no result: single-precision stamps, sums of rounded steps.
	slackSteps = 1e-3
	// worstResolution bounds the resolution of the stamps over the record's
	// span: the interval can be no better known than that. Stamps that sit on
	// the end-to-end grid as printed (0, 1, 2, ... ns) show no rounding at all
	// and are taken at their word.
	worstResolution = 1e-3
	// conflictLimit is how far the stated interval may lie from that of the
	// stamps, relative, before the file contradicts itself too much.
	conflictLimit = 0.01
)

// newAxis finds the axis of the stamps t [s], printed with that precision.
// stated is the interval that the header gives [s], NaN if none; it goes before
// the stamps. Without it the interval is end to end, (last - first)/(n - 1):
// the first difference would carry the rounding of two stamps undivided.
func newAxis(t []float64, p precision, stated float64) (axis, *axisError) {
	if err := checkOrder(t, math.IsNaN(stated)); err != nil {
		return axis{}, err
	}
	n := len(t)
	span := t[n-1] - t[0]
	res := max(p.at(t[0]), p.at(t[n-1]))
	pairs, longest := repeats(t)
	if twins(t, pairs) && !(stated < 0.75*2*span/float64(n-1)) {
		return axis{}, &axisError{-1, "every time stamp on two rows, the lowest and the highest value of a peak-detect record",
			"one sample for each time", "record again in sample mode"}
	}
	if math.IsNaN(stated) {
		switch {
		case res > worstResolution*span && !(stamps{t, noPrecision}).fits(nil, span/float64(n-1)):
			return axis{}, coarse(fmt.Sprintf("time stamps with a resolution of %s over a record of %s", seconds(res), seconds(span)))
		case longest > 2 || pairs > n/100:
			return axis{}, coarse(fmt.Sprintf("%d time stamps that repeat the one before", pairs))
		}
	}
	s := stamps{t, p}
	if a, ok := s.even(stated); ok {
		if pairs > 0 && math.IsNaN(stated) {
			a.warn(waveform.TimeRepeated, fmt.Sprintf("%d time stamps repeat the one before; the samples were taken as evenly spaced", pairs))
		} else if pairs > 0 {
			a.warn(waveform.TimeRounded, fmt.Sprintf("time stamps are rounded to %s and repeat; the interval of %s is that of the header", seconds(res), seconds(stated)))
		}
		return a, nil
	}
	if a, ok := s.gapped(stated); ok {
		return a, nil
	}
	return s.uneven(stated, span/float64(n-1))
}

func (a *axis) warn(code waveform.Code, text string) {
	a.warnings = append(a.warnings, waveform.Warning{Code: code, Text: text})
}

func coarse(found string) *axisError {
	return &axisError{-1, found + ", and no sample interval in the header",
		"stamps that tell the samples apart", "export with more digits or with the sample interval"}
}

// checkOrder refuses stamps that go back and, where nothing else gives the
// interval, stamps that do not move.
func checkOrder(t []float64, alone bool) *axisError {
	if len(t) < 2 {
		return &axisError{-1, "one row of samples", "at least two", ""}
	}
	for k := 1; k < len(t); k++ {
		if t[k] < t[k-1] {
			return &axisError{k, fmt.Sprintf("time goes back from %s to %s", seconds(t[k-1]), seconds(t[k])),
				"time stamps that grow", "see whether the file holds several captures, or another column is the time"}
		}
	}
	if span := t[len(t)-1] - t[0]; math.IsInf(span, 0) || math.IsNaN(span) {
		return &axisError{-1, "time stamps too large for a number", "times in seconds", ""}
	}
	if alone && t[len(t)-1] == t[0] {
		return &axisError{-1, "the same time stamp in every row", "time stamps that grow", ""}
	}
	return nil
}

// repeats counts the stamps equal to the one before and the rows of the
// longest run of equal stamps.
func repeats(t []float64) (pairs, longest int) {
	run := 1
	for k := 1; k < len(t); k++ {
		if t[k] != t[k-1] {
			run = 1
			continue
		}
		pairs++
		run++
		longest = max(longest, run)
	}
	return pairs, longest
}

// twins tells whether each stamp stands exactly twice.
func twins(t []float64, pairs int) bool {
	if pairs < 2 || pairs != len(t)/2 {
		return false
	}
	for k := 0; k+1 < len(t); k += 2 {
		if t[k] != t[k+1] {
			return false
		}
	}
	return true
}

// stamps are time stamps with the precision they were printed with.
type stamps struct {
	t []float64
	p precision
}

// even returns the even axis of the stamps, if there is one.
func (s stamps) even(stated float64) (axis, bool) {
	n := len(s.t)
	if !math.IsNaN(stated) {
		return axis{t0: s.t[0], dt: stated}, s.fits(nil, stated)
	}
	dt := (s.t[n-1] - s.t[0]) / float64(n-1)
	return axis{t0: s.t[0], dt: dt}, s.fits(nil, dt) || s.fits(nil, s.slope(nil))
}

// fits tells whether a grid of that interval exists that each stamp meets
// within half its printed resolution. gaps shift the rows behind them. A stamp
// that repeats the one before says nothing of its own and is passed over,
// unless the resolution explains it.
func (s stamps) fits(gaps []gap, dt float64) bool {
	const block = 1 << 18
	low, high := math.Inf(-1), math.Inf(1)
	var mu sync.Mutex
	onAllCores((len(s.t)+block-1)/block, 0, func(i int, _ []byte) {
		from, to := s.origins(gaps, dt, i*block, min((i+1)*block, len(s.t)))
		mu.Lock()
		low, high = max(low, from), min(high, to)
		mu.Unlock()
	})
	return low <= high
}

// origins returns the bounds between which the grid may start, from the first
// stamp on, by the stamps of rows from to to-1: low beyond high, or NaN, where
// it can start nowhere.
func (s stamps) origins(gaps []gap, dt float64, from, to int) (low, high float64) {
	low, high = math.Inf(-1), math.Inf(1)
	r := ruler{precision: s.p}
	shift, g, before := 0, 0, math.NaN()
	if from > 0 {
		before = s.t[from-1]
	}
	for k := from; k < to; k++ {
		t := s.t[k]
		for g < len(gaps) && k > gaps[g].after {
			shift += gaps[g].missing
			g++
		}
		if !r.covers(t) {
			r.move(t)
		}
		if t == before && r.res < dt/2 {
			continue
		}
		before = t
		off := t - s.t[0] - float64(k+shift)*dt
		tol := r.res/2 + slackSteps*dt
		// Few stamps move a bound: foreseen branches cost half of what min and max
		// do. A NaN stamp fits nowhere.
		if at := off - tol; !(at <= low) {
			if low = at; !(low <= high) {
				return low, high
			}
		}
		if at := off + tol; !(at >= high) {
			if high = at; !(low <= high) {
				return low, high
			}
		}
	}
	return low, high
}

// slope returns the interval by least squares, in which the rounding of the
// two end stamps does not count for more than that of others.
func (s stamps) slope(gaps []gap) float64 {
	var sk, st, skk, skt float64
	n := float64(len(s.t))
	shift, g := 0, 0
	for k, t := range s.t {
		if g < len(gaps) && k > gaps[g].after {
			shift += gaps[g].missing
			g++
		}
		x := float64(k + shift)
		sk += x
		st += t - s.t[0]
	}
	mk, mt := sk/n, st/n
	shift, g = 0, 0
	for k, t := range s.t {
		if g < len(gaps) && k > gaps[g].after {
			shift += gaps[g].missing
			g++
		}
		x := float64(k+shift) - mk
		skk += x * x
		skt += x * (t - s.t[0] - mt)
	}
	return skt / skk
}

// gapped returns the axis of stamps that are even but for rows that are not
// there.
func (s stamps) gapped(stated float64) (axis, bool) {
	n := len(s.t)
	steps := make([]float64, n-1)
	for k := range steps {
		steps[k] = s.t[k+1] - s.t[k]
	}
	sorted := slices.Clone(steps)
	slices.Sort(sorted)
	typical := sorted[len(sorted)/2]
	if !math.IsNaN(stated) {
		typical = stated
	}
	var gaps []gap
	total := n
	inside, whole := 0.0, 0
	for k, d := range steps {
		if d <= 1.5*typical+s.p.at(s.t[k]) {
			inside += d
			whole++
			continue
		}
		gaps = append(gaps, gap{after: k})
	}
	// Many long steps are another sampling, not gaps; and a gap may not make
	// the record many times longer than what was recorded.
	if len(gaps) == 0 || len(gaps) > max(1, n/50) || whole == 0 {
		return axis{}, false
	}
	if math.IsNaN(stated) {
		typical = inside / float64(whole)
	}
	for i := range gaps {
		missing := math.Round(steps[gaps[i].after]/typical) - 1
		if missing > float64(9*n) {
			return axis{}, false
		}
		gaps[i].missing = int(missing)
		total += gaps[i].missing
	}
	if total > 10*n {
		return axis{}, false
	}
	a := axis{t0: s.t[0], dt: stated, gaps: gaps}
	if math.IsNaN(stated) {
		a.dt = (s.t[n-1] - s.t[0]) / float64(total-1)
	}
	if !s.fits(gaps, a.dt) && (!math.IsNaN(stated) || !s.fits(gaps, s.slope(gaps))) {
		return axis{}, false
	}
	for _, g := range gaps {
		over := waveform.Interval{From: s.t[g.after], To: s.t[g.after+1]}
		a.warnings = append(a.warnings, waveform.Warning{Code: waveform.Gap, Over: over,
			Text: fmt.Sprintf("%d samples are missing between %s and %s", g.missing, seconds(over.From), seconds(over.To))})
	}
	return a, true
}

// uneven deals with stamps that fit no grid: an interval in the header that
// contradicts them, or jitter.
func (s stamps) uneven(stated, endToEnd float64) (axis, *axisError) {
	if !math.IsNaN(stated) {
		if math.Abs(stated-endToEnd) > conflictLimit*endToEnd {
			return axis{}, &axisError{-1,
				fmt.Sprintf("a sample interval of %s in the header and of %s between the time stamps", seconds(stated), seconds(endToEnd)),
				"the same interval in both", "correct the one that is wrong"}
		}
		if s.fits(nil, endToEnd) {
			a := axis{t0: s.t[0], dt: stated}
			a.warn(waveform.IntervalConflict, fmt.Sprintf("the header states an interval of %s, the time stamps %s; that of the header was taken", seconds(stated), seconds(endToEnd)))
			return a, nil
		}
	}
	worst, row := 0.0, 0
	for k, t := range s.t {
		if off := math.Abs(t - s.t[0] - float64(k)*endToEnd); off > worst {
			worst, row = off, k
		}
	}
	// Beyond half an interval a sample belongs to another place on the grid.
	if worst > endToEnd/2 && math.IsNaN(stated) && !(worst != worst) {
		a := axis{t0: s.t[0], dt: endToEnd, uneven: s.t}
		a.warn(waveform.UnevenSteps, fmt.Sprintf("time stamps stray from an even grid of %s by up to %s", seconds(a.dt), seconds(worst)))
		return a, nil
	}
	if worst > endToEnd/2 {
		return axis{}, &axisError{row, fmt.Sprintf("time steps that are not equal: a stamp %s away from an even grid of %s", seconds(worst), seconds(endToEnd)),
			"evenly spaced samples", "export the record on an even time grid"}
	}
	a := axis{t0: s.t[0], dt: endToEnd}
	if !math.IsNaN(stated) {
		a.dt = stated
	}
	a.warn(waveform.UnevenSteps, fmt.Sprintf("time stamps stray from an even grid of %s by up to %s", seconds(a.dt), seconds(worst)))
	return a, nil
}

// spread puts samples onto the axis: NaN where the gaps are, so that no
// quantity can span one.
func (a axis) spread(y []float64) []float64 {
	if len(a.gaps) == 0 {
		return y
	}
	var out []float64
	from := 0
	for _, g := range a.gaps {
		out = append(out, y[from:g.after+1]...)
		for range g.missing {
			out = append(out, math.NaN())
		}
		from = g.after + 1
	}
	return append(out, y[from:]...)
}

// seconds writes a time for a message.
func seconds(t float64) string { return unit.Format(t, "s", 4) }

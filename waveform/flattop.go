package waveform

import (
	"math"
	"slices"
	"sync"
)

// Run is a run of samples, First to Last inclusive.
type Run struct {
	First, Last int
	Sign        int // +1 at the top, -1 at the bottom
}

// FlatTops finds the samples that a converter clipped at the end of its range. The
// range ends at the largest (or smallest) value of a record if three or more samples
// of it side by side cannot be as they are; then all samples of that value are clipped.
//
// Flanks that are steep on both sides tell: a rounded peak that stays on one
// quantisation step for r samples has fallen by eight steps after r more on each side;
// a clipped one by ten or more. Of a run of less than six samples twenty are asked,
// or twenty steps of noise if that is larger, since chance may have made it as long as it is.
// A state of a trace without noise, as a simulator or a quiet scope of few bits writes
// it, is as flat and may have steep flanks; it lasts longer than a peak.
//
// A slow ramp that stops at the end of the range has no steep flank. It is told by
// its noise: twenty or more samples of one value, beside samples that noise of more
// than a step of the converter scatters, are no signal at rest.
//
// A state of a trace without noise that is clipped as a whole is not told from a true one.
func FlatTops(y []float64) []Run {
	lo, hi, ok := finiteRange(y)
	if !ok {
		return nil
	}
	quantum := sync.OnceValue(func() float64 { return Quantum(y) })
	noisy := sync.OnceValue(func() bool { return flickers(y, hi-lo) })
	var runs []Run
	for _, rail := range []float64{lo, hi} {
		if clipsAt(y, rail, hi-lo, quantum, noisy) {
			runs = append(runs, runsAt(y, rail, hi)...)
		}
	}
	slices.SortFunc(runs, func(a, b Run) int { return a.First - b.First })
	return runs
}

// clipsAt tells whether the range ends at that value, from one run of samples that
// cannot be as it is.
func clipsAt(y []float64, rail, span float64, quantum func() float64, noisy func() bool) bool {
	var long []Run
	for k := leastRun - 1; k < len(y); k += leastRun { // no run of that length lies between
		if y[k] != rail {
			continue
		}
		r := runAround(y, k)
		k = r.Last
		if r.Last-r.First+1 >= leastRun {
			long = append(long, r)
		}
	}
	if len(long) == 0 {
		return false
	}
	q, noise := quantum(), noisy() && scatters(y, rail, span)
	return slices.ContainsFunc(long, func(r Run) bool {
		return steepFlanks(y, r, max(10*q, 0.01*span), q) && (noise || cutOff(y, r)) || noise && pinned(y, r, q)
	})
}

// scatters tells whether most samples away from that value are off the line through
// their neighbours, so that no state of the trace keeps to one code.
func scatters(y []float64, value, span float64) bool {
	off, all := 0, 0
	for k := 1; k+1 < len(y); k++ {
		if y[k] == value || y[k-1] == value || y[k+1] == value {
			continue
		}
		all++
		if d := y[k+1] - 2*y[k] + y[k-1]; math.Abs(d) >= 5e-5*span {
			off++
		}
	}
	return 2*off >= all
}

// Limits of cutOff: what the rest of a peak lasts, at most.
const (
	cutRun   = 32 // samples
	cutShare = 64 // th part of the record
)

// cutOff tells whether a run of a trace without noise is the rest of a peak and no
// state: on one side the trace still falls away once a quarter of its length has passed.
func cutOff(y []float64, r Run) bool {
	n := r.Last - r.First + 1
	near, far := (n+3)/4, (n+1)/2
	goesOn := func(near, far int) bool {
		return far >= 0 && far < len(y) && math.Abs(y[far]-y[r.First]) >= 1.25*math.Abs(y[near]-y[r.First])
	}
	return n <= min(cutRun, len(y)/cutShare) && (goesOn(r.First-near, r.First-far) || goesOn(r.Last+near, r.Last+far))
}

// steepFlanks tells whether the samples on both sides of a run fall away from it by
// flank and more; a short run, which a step of noise may have made as long as it is,
// by twenty steps of the converter or of noise.
func steepFlanks(y []float64, r Run, flank, quantum float64) bool {
	n := r.Last - r.First + 1
	w := min(n, 8)
	if n < 6 {
		flank = max(flank, 20*max(quantum, usualStep(y)))
	}
	steep := func(at int) bool {
		// At an end of the record nothing tells; the other side decides.
		return at < 0 || at >= len(y) || math.Abs(y[at]-y[r.First]) >= flank
	}
	return n >= leastRun && n < len(y)-2*w && steep(r.First-w) && steep(r.Last+w)
}

// usualStep is the median size of the steps between some 4096 pairs of neighbours that
// differ: that of the converter, or of noise that is larger.
func usualStep(y []float64) float64 {
	var steps []float64
	for k := 1; k < len(y); k += max(len(y)/4096, 1) {
		if d := math.Abs(y[k] - y[k-1]); d > 0 && !math.IsInf(d, 0) {
			steps = append(steps, d)
		}
	}
	if len(steps) == 0 {
		return 0
	}
	return sorted(steps)[len(steps)/2]
}

// Limits of pinned.
const (
	pinnedRun   = 20 // samples: with as much noise as is asked for, chance makes one in 10⁸
	pinnedReach = 64 // samples beside the run that noise is looked for in
)

// pinned tells whether a run is one of a slow signal that stands at the end of the
// range: the samples on one side of it are scattered by noise of more than a step of
// the converter, half of their second differences by two and more, which could not
// have left the run as it is.
func pinned(y []float64, r Run, quantum float64) bool {
	if r.Last-r.First+1 < pinnedRun || !(quantum > 0) {
		return false
	}
	scattered := func(lo, hi int) bool {
		beside := y[max(lo, 0):min(hi, len(y))]
		wide, turns := 0, 0
		for k := 1; k+1 < len(beside); k++ {
			before, after := beside[k]-beside[k-1], beside[k+1]-beside[k]
			if math.Abs(after-before) > 1.9*quantum {
				wide++
			}
			if before*after < 0 {
				turns++
			}
		}
		return len(beside) == pinnedReach && 2*wide >= pinnedReach-2 && 4*turns >= pinnedReach-2
	}
	return scattered(r.First-pinnedReach, r.First) || scattered(r.Last+1, r.Last+1+pinnedReach)
}

// runsAt lists all runs of samples of that value, hi being the top.
func runsAt(y []float64, value, hi float64) (runs []Run) {
	for k := 0; k < len(y); k++ {
		if y[k] != value {
			continue
		}
		r := runAround(y, k)
		if value != hi {
			r.Sign = -1
		}
		runs = append(runs, r)
		k = r.Last
	}
	return runs
}

// leastRun is how many samples at the end of the range are a flat top.
const leastRun = 3

// runAround returns the run of samples equal to sample k that holds it.
func runAround(y []float64, k int) Run {
	r := Run{k, k, +1}
	for r.First > 0 && y[r.First-1] == y[k] {
		r.First--
	}
	for r.Last+1 < len(y) && y[r.Last+1] == y[k] {
		r.Last++
	}
	return r
}

// flickers tells whether the steps between neighbours change sign as noise
// makes them: at a quarter or more of all steps that a converter of 14 bits
// could resolve. Of a record of more than a million samples it looks at the
// first 4096 of every 65536.
func flickers(y []float64, span float64) bool {
	turns, steps, last := 0, 0, 0.0
	for k := 1; k < len(y); k++ {
		if len(y) > 1<<20 && k&0xffff == 4096 {
			k |= 0xffff // the next one starts a stretch
			continue
		}
		d := y[k] - y[k-1]
		if !(math.Abs(d) >= 5e-5*span) || math.IsInf(d, 0) {
			continue
		}
		steps++
		if d*last < 0 {
			turns++
		}
		last = d
	}
	return steps >= 10 && 4*turns >= steps
}

func finiteRange(y []float64) (lo, hi float64, ok bool) {
	lo, hi = math.Inf(1), math.Inf(-1)
	for _, v := range y {
		if v < lo && v-v == 0 { // plain comparisons cost half of what min and max do
			lo = v
		}
		if v > hi && v-v == 0 {
			hi = v
		}
	}
	return lo, hi, hi > lo
}

// Quantum estimates the quantisation step of y from about 4096 of its samples:
// the smallest step between distinct values, if all steps are multiples of it.
// It is 0 where they are not, as in a computed waveform, or where y is constant.
func Quantum(y []float64) float64 {
	step := max(len(y)/4096, 1)
	s := make([]float64, 0, 4097)
	for k := 0; k < len(y); k += step {
		if y[k]-y[k] == 0 {
			s = append(s, y[k])
		}
	}
	if len(s) == 0 {
		return 0
	}
	s = sorted(s)
	// Rounding in scaling makes equal codes differ in their last digits.
	tiny := 1e-9 * (s[len(s)-1] - s[0])
	q := math.Inf(1)
	for k := 1; k < len(s); k++ {
		if d := s[k] - s[k-1]; d > tiny && d < q {
			q = d
		}
	}
	for k := 1; k < len(s); k++ {
		if n := (s[k] - s[k-1]) / q; math.Abs(n-math.Round(n)) > 0.1 {
			return 0
		}
	}
	if math.IsInf(q, 1) {
		return 0
	}
	return q
}

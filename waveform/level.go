package waveform

import (
	"math"
	"slices"
	"sync"
)

// LevelMethod chooses how the level of a state is read from samples.
type LevelMethod string

const (
	// Shorth finds the shortest interval that holds half of the samples and
	// takes the mean of all samples around its middle, out to twice its width
	// (a normal distribution to 2.7 standard deviations); where quantisation
	// leaves it no width, out to that of the shortest interval that holds three
	// quarters. It is the default: it needs no bins, resists ringing and
	// one-sided settling, and resolves less than a quantisation step. (NIST TN
	// 2036 discusses it against the mode.)
	Shorth LevelMethod = "shorth"
	// HistogramMode is the centre of gravity of the fullest bin of a histogram
	// with HistogramBins bins of equal width between the extremes, the
	// long-standing estimator of IEEE 181.
	HistogramMode LevelMethod = "mode"
)

// HistogramBins is the fixed number of bins of HistogramMode, since other
// numbers give other, equally conforming levels.
const HistogramBins = 256

// Level returns the level of the one state that the samples y belong to, by
// the given method, in the unit of y. Samples that are not finite make it NaN,
// as does an empty y: a state with over-range or missing samples has no honest
// level.
func Level(y []float64, method LevelMethod) float64 {
	if len(y) == 0 || !allFinite(y) {
		return math.NaN()
	}
	if method == HistogramMode {
		return histogramMode(y)
	}
	return shorth(y)
}

func shorth(y []float64) float64 {
	s := sorted(y)
	lo, hi := shortest(s, len(s)/2+1)
	r := 2 * (hi - lo)
	if r == 0 {
		a, b := shortest(s, len(s)*3/4+1)
		r = b - a
	}
	mid := (lo + hi) / 2
	a, _ := slices.BinarySearch(s, mid-r)
	b, _ := slices.BinarySearch(s, math.Nextafter(mid+r, math.Inf(1)))
	return Mean(s[a:b])
}

// shortest returns the shortest interval that holds n of the sorted values: of
// several equally short ones, which quantised samples leave, the middle one.
func shortest(s []float64, n int) (lo, hi float64) {
	n = min(n, len(s))
	best, first, last := math.Inf(1), 0, 0
	for k := 0; k+n <= len(s); k++ {
		switch w := s[k+n-1] - s[k]; {
		case w < best:
			best, first, last = w, k, k
		case w == best:
			last = k
		}
	}
	k := (first + last) / 2
	return s[k], s[k+n-1]
}

func histogramMode(y []float64) float64 {
	lo, hi := slices.Min(y), slices.Max(y)
	if lo == hi {
		return lo
	}
	var count [HistogramBins]int
	var sum [HistogramBins]float64
	scale := HistogramBins / (hi - lo)
	for _, v := range y {
		k := min(int((v-lo)*scale), HistogramBins-1)
		count[k]++
		sum[k] += v
	}
	best := 0
	for k, c := range count {
		if c > count[best] {
			best = k
		}
	}
	return sum[best] / float64(count[best])
}

// Mean returns the arithmetic mean of y, NaN if it is empty.
func Mean(y []float64) float64 {
	sum := 0.0
	for _, v := range y {
		sum += v
	}
	return sum / float64(len(y))
}

// StdDev returns the experimental standard deviation of y (n-1 in the
// denominator), NaN for fewer than two samples.
func StdDev(y []float64) float64 {
	if len(y) < 2 {
		return math.NaN()
	}
	m, sum := Mean(y), 0.0
	for _, v := range y {
		sum += (v - m) * (v - m)
	}
	return math.Sqrt(sum / float64(len(y)-1))
}

// States returns the low and the high state level of a two-state record, by
// the given method: the range of the samples is halved, and each half read by
// itself. To keep a single spike from moving the halves, the range is that of
// the medians of three neighbours. Non-finite samples are left out, since this
// serves to find events, not to place levels. It returns NaN, NaN where the
// record has fewer than three finite samples or does not move. Of a long record some
// ten thousand samples of each half are looked at.
func States(y []float64, method LevelMethod) (low, high float64) {
	lo, hi := math.Inf(1), math.Inf(-1)
	inside := 0 // samples side by side up to k+1 that would not widen the range
	for k := 1; k+1 < len(y); k++ {
		if v := y[k+1]; v >= lo && v <= hi {
			inside++
		} else {
			inside = 0
		}
		if inside >= 3 {
			continue
		}
		m := median3(y[k-1], y[k], y[k+1])
		if m-m != 0 { // not finite
			continue
		}
		lo, hi = min(lo, m), max(hi, m)
	}
	if !(hi > lo) {
		return math.NaN(), math.NaN()
	}
	mid := (lo + hi) / 2
	below, above := 0, 0
	for _, v := range y {
		switch {
		case v-v != 0:
		case v < mid:
			below++
		default:
			above++
		}
	}
	everyA, everyB := oneIn(below, statePoints), oneIn(above, statePoints)
	a, b := make([]float64, 0, below/everyA+1), make([]float64, 0, above/everyB+1)
	nextA, nextB := 1, 1
	for _, v := range y {
		switch {
		case v-v != 0:
		case v < mid:
			if nextA--; nextA == 0 {
				a, nextA = append(a, v), everyA
			}
		default:
			if nextB--; nextB == 0 {
				b, nextB = append(b, v), everyB
			}
		}
	}
	var wg sync.WaitGroup
	wg.Go(func() { low = Level(a, method) })
	high = Level(b, method)
	wg.Wait()
	return low, high
}

// statePoints is how many samples of a state tell its level well enough to find events.
const statePoints = 8192

// Thinned returns one in every few samples, so many of them that n are left and at most
// three times as many; y itself where it has fewer.
func Thinned(y []float64, n int) []float64 {
	every := oneIn(len(y), n)
	if every == 1 {
		return y
	}
	out := make([]float64, 0, len(y)/every+1)
	for k := 0; k < len(y); k += every {
		out = append(out, y[k])
	}
	return out
}

// oneIn is in how many of all samples one is taken where n suffice: an odd number, since
// converters that take turns may have a zero each.
func oneIn(all, n int) int {
	every := max(all/n, 1)
	return every - 1 + every%2
}

func median3(a, b, c float64) float64 {
	return max(min(a, b), min(max(a, b), c))
}

func allFinite(y []float64) bool {
	for _, v := range y {
		if v-v != 0 {
			return false
		}
	}
	return true
}

package waveform

import (
	"math"
	"slices"
)

// Limits of Outliers.
const (
	outlierReach  = 16   // samples on both sides that are looked at
	outlierRatio  = 8    // times what these are off their own neighbours
	outlierSpan   = 0.02 // of the span of the trace, at least
	outlierQuanta = 6    // steps of the converter, at least
	outlierStep   = 3    // times any other step, where the neighbours do not tell
	outlierRounds = 20
	outlierBurst  = 8  // samples side by side, at most
	burstSteps    = 40 // largest steps that bursts are looked for among
)

// Outliers finds isolated samples, alone, two side by side or in a short burst, which the samples
// around them cannot support: numbers that a torn transfer, a broken cell or a
// wrong bit of a converter has left. A sample is one if it is off the cubic through
// two neighbours on each side by
//
//   - eight times as much as any of the sixteen samples on both sides is off its own
//     neighbours, once it is replaced by the cubic, and
//   - 2 % of the span of the trace, and six steps of its converter.
//
// The shortest pulse that a Gaussian channel with a rise of two samples lets through
// is off by four times as much, an edge by three, ringing and white noise by two. A
// trace that passes half its span from one sample to the next is too coarse for that,
// and within two samples of an end or of one that is not finite there is no cubic:
// there the steps to the neighbours must be three times any other of the trace. So
// must those in and at both ends of a burst of three to eight, however often it comes: an
// edge that fast would show elsewhere.
func Outliers(y []float64) []int {
	core := medians(y)
	lo, hi, ok := finiteRange(core)
	if !ok {
		return nil
	}
	s := outlierSearch{y: y, span: hi - lo, least: max(outlierSpan*(hi-lo), outlierQuanta*Quantum(core))}
	var all []int
	for range outlierRounds { // a smaller one shows once a larger one is out of the way
		found := s.round()
		if len(found) == 0 {
			break
		}
		all = append(all, found...)
	}
	slices.Sort(all)
	return slices.Compact(all)
}

// outlierSearch is a search under way.
type outlierSearch struct {
	y      []float64 // a copy once something was found, which is replaced there
	copied bool
	span   float64 // of the trace without outliers
	least  float64 // what an outlier is off, at least
	steps  []step  // the largest of y, the largest first; nil until they are needed
}

// step is the size of the step from sample k to the next.
type step struct {
	size float64
	k    int
}

// round looks once at all samples and replaces the outliers that it finds.
func (s *outlierSearch) round() (found []int) {
	s.steps = nil
	before, last := false, true // whether the two steps before sample k are large enough
	for k := 0; k < len(s.y); k++ {
		for !last && !before && k+1 < len(s.y) && math.Abs(s.y[k+1]-s.y[k]) <= s.least {
			k++
		}
		next := k+1 == len(s.y) || !(math.Abs(s.y[k+1]-s.y[k]) <= s.least)
		switch {
		case !next:
		case last && s.outlying(k, 1):
			found = append(found, k)
			last, next = false, false // its neighbour is for the next round
		case before && s.outlying(k-1, 2):
			found = append(found, k-1, k)
			last, next = false, false
		}
		before, last = last && k > 0, next
	}
	if len(found) == 0 {
		found = s.bursts()
	}
	if len(found) > 0 && !s.copied {
		s.y, s.copied = slices.Clone(s.y), true
	}
	for _, k := range found {
		s.replace(k, found)
	}
	return found
}

// bursts finds three to eight samples side by side, ragged or not, once in the trace or a
// few times: the largest steps of the trace, each three times any other, come in such
// short groups, behind which the trace goes on as before.
func (s *outlierSearch) bursts() (found []int) {
	top := rawSteps(s.y, burstSteps)
	for j := 2; j < len(top) && top[j-1].size >= s.least; j++ {
		if top[j-1].size > outlierStep*top[j].size {
			if found = s.groups(top[:j]); found != nil {
				return found
			}
		}
	}
	return nil
}

// groups returns the samples between the first and the last step of each group, nil if one
// of the groups is no burst.
func (s *outlierSearch) groups(steps []step) (found []int) {
	steps = slices.SortedFunc(slices.Values(steps), func(a, b step) int { return a.k - b.k })
	for len(steps) > 0 {
		n := 1
		for n < len(steps) && steps[n].k-steps[n-1].k <= outlierBurst {
			n++
		}
		from, to := steps[0].k+1, steps[n-1].k+1
		if to-from < 3 || to-from > outlierBurst {
			return nil
		}
		across := math.Abs(s.y[to]-s.y[from-1]) / float64(to-from+1)
		if by := s.leastStep(from, to-from); by < s.least || !(by > outlierStep*across) {
			return nil
		}
		for k := from; k < to; k++ {
			found = append(found, k)
		}
		steps = steps[n:]
	}
	return found
}

// replace puts in place of sample k what the nearest samples that were not found say.
func (s *outlierSearch) replace(k int, found []int) {
	a, b := k-1, k+1
	isFound := func(k int) bool { _, ok := slices.BinarySearch(found, k); return ok }
	for a >= 0 && isFound(a) {
		a--
	}
	for b < len(s.y) && isFound(b) {
		b++
	}
	switch {
	case a >= 0 && b < len(s.y):
		s.y[k] = s.y[a] + (s.y[b]-s.y[a])*float64(k-a)/float64(b-a)
	case a >= 0:
		s.y[k] = s.y[a]
	case b < len(s.y):
		s.y[k] = s.y[b]
	}
}

// outlying tells whether the n samples from k on are outliers.
func (s *outlierSearch) outlying(k, n int) bool {
	for _, y := range s.y[k : k+n] {
		if y-y != 0 {
			return false
		}
	}
	if k > 0 && k+n < len(s.y) && (s.y[k]-s.y[k-1])*(s.y[k+n-1]-s.y[k+n]) < 0 {
		return false // on the way from one side to the other
	}
	off, rest := s.off(k, n)
	by, other := s.leastStep(k, n), s.otherStep(k, n)
	if !(min(off, by) >= s.least && off >= outlierRatio*float64(n)*rest) {
		return false
	}
	return rest >= 0 && other <= s.span/2 || by > outlierStep*other
}

// off returns by how much the n samples from k on are off the cubic through their
// neighbours, the least of them, and by how much the samples around are off theirs,
// the most. Without a cubic it is infinite, and rest -1.
func (s *outlierSearch) off(k, n int) (off, rest float64) {
	lo, hi := max(k-outlierReach, 0), min(k+n+outlierReach, len(s.y))
	var buffer [2*outlierReach + 2]float64
	y := buffer[:copy(buffer[:], s.y[lo:hi])]
	k -= lo
	if k < 2 || k+n+2 > len(y) {
		return math.Inf(1), -1
	}
	a, b, c, d := y[k-2], y[k-1], y[k+n], y[k+n+1]
	off = math.Inf(1)
	for j := range n {
		var at float64 // Lagrange's cubic
		switch {
		case n == 1:
			at = across(y, k)
		case j == 0:
			at = (-3*a + 10*b + 5*c - 2*d) / 10
		default:
			at = (-2*a + 5*b + 10*c - 3*d) / 10
		}
		if at-at != 0 {
			return math.Inf(1), -1
		}
		off = min(off, math.Abs(y[k+j]-at))
		y[k+j] = at
	}
	var at int
	for range 3 {
		if rest, at = roughest(y); outlierRatio*rest <= off || at >= k-2 && at < k+n+2 {
			break
		}
		y[at] = across(y, at) // one more of its kind, unless that does not help
	}
	return off, rest
}

// across is the cubic through the two samples on each side of sample k.
func across(y []float64, k int) float64 { return (-y[k-2] + 4*y[k-1] + 4*y[k+1] - y[k+2]) / 6 }

// roughest returns by how much a sample is off that cubic, the most, and which.
func roughest(y []float64) (off float64, at int) {
	for k := 2; k+2 < len(y); k++ {
		if r := math.Abs(y[k] - across(y, k)); r > off && !math.IsInf(r, 1) {
			off, at = r, k
		}
	}
	return off, at
}

// leastStep is the smaller of the steps between the n samples from k on and their
// neighbours on both sides, 0 where there is none.
func (s *outlierSearch) leastStep(k, n int) float64 {
	least := math.Inf(1)
	if k > 0 && s.y[k-1]-s.y[k-1] == 0 {
		least = min(least, math.Abs(s.y[k]-s.y[k-1]))
	}
	if k+n < len(s.y) && s.y[k+n]-s.y[k+n] == 0 {
		least = min(least, math.Abs(s.y[k+n-1]-s.y[k+n]))
	}
	if math.IsInf(least, 1) {
		return 0
	}
	return least
}

// otherStep is the largest step of the trace that none of the n samples from k on
// is part of, that between their neighbours on both sides included, and those from
// there on.
func (s *outlierSearch) otherStep(k, n int) float64 {
	if s.steps == nil {
		s.steps = largestSteps(s.y, 4)
	}
	size := 0.0
	for _, pair := range [][2]int{{k - 1, k + n}, {k - 2, k - 1}, {k + n, k + n + 1}} {
		if a, b := pair[0], pair[1]; a >= 0 && b < len(s.y) {
			if d := math.Abs(s.y[b] - s.y[a]); d > size && !math.IsInf(d, 1) {
				size = d
			}
		}
	}
	for _, st := range s.steps {
		if st.k < k-1 || st.k > k+n-1 {
			return max(size, st.size)
		}
	}
	return size
}

// largestSteps returns the n largest steps between neighbours, the largest first, of
// the trace without what is a single sample: the medians of three.
func largestSteps(y []float64, n int) []step {
	top := make([]step, n)
	median := func(k int) float64 {
		if sum := y[k-1] + y[k] + y[k+1]; sum-sum != 0 {
			return math.NaN()
		}
		return median3(y[k-1], y[k], y[k+1])
	}
	for k := 2; k+1 < len(y); k++ {
		// Both medians lie between the two samples that they share.
		if !(math.Abs(y[k]-y[k-1]) > top[n-1].size) {
			continue
		}
		d := math.Abs(median(k) - median(k-1))
		if !(d > top[n-1].size) {
			continue
		}
		insert(top, step{d, k - 1})
	}
	return top
}

// insert puts a step in its place among those that are the largest first, and drops the last.
func insert(top []step, s step) {
	j := len(top) - 1
	for ; j > 0 && s.size > top[j-1].size; j-- {
		top[j] = top[j-1]
	}
	top[j] = s
}

// rawSteps returns the n largest steps between neighbours, the largest first.
func rawSteps(y []float64, n int) []step {
	top := make([]step, 0, n)
	for k := 1; k < len(y); k++ {
		d := math.Abs(y[k] - y[k-1])
		full := len(top) == n
		if full && !(d > top[n-1].size) || d-d != 0 {
			continue
		}
		if !full {
			top = append(top, step{})
		}
		insert(top, step{d, k - 1})
	}
	return top
}

// medians returns the medians of five neighbours at some 8192 places of a trace: its
// samples without what is shorter than three of them.
func medians(y []float64) []float64 {
	every := max(len(y)/8192, 1)
	all := make([]float64, 0, len(y)/every+1)
	for k := 0; k+5 <= len(y); k += every {
		all = append(all, median5([5]float64(y[k:k+5])))
	}
	return all
}

// median5 returns the median of five, of which one that is no number is the smallest.
func median5(five [5]float64) float64 {
	a, b, c, d, e := five[0], five[1], five[2], five[3], five[4]
	if sum := a + b + c + d + e; sum-sum != 0 {
		slices.Sort(five[:])
		return five[2]
	}
	if a > b {
		a, b = b, a
	}
	if c > d {
		c, d = d, c
	}
	if a > c {
		b, c, d = d, a, b
	}
	// Three are as large as a and more: the median is the second of the other four.
	if b > e {
		b, e = e, b
	}
	if b > c {
		return min(b, d)
	}
	return min(c, e)
}

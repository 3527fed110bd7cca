package waveform

import "math"

// Integral returns the integral of the trace over iv, in its unit times
// seconds: the trapezoid rule on the samples, with linearly interpolated ends.
// It is NaN where iv reaches out of the trace, is reversed, or holds a sample
// that is not finite.
func Integral(tr *Trace, iv Interval) float64 {
	if !(iv.To >= iv.From) {
		return math.NaN()
	}
	ya, yb := tr.At(iv.From), tr.At(iv.To)
	lo, hi := tr.Indices(iv)
	if lo >= hi { // both ends between the same two samples
		return (ya + yb) / 2 * iv.Duration()
	}
	sum := 0.0
	for k := lo; k+1 < hi; k++ {
		sum += (tr.Y[k] + tr.Y[k+1]) / 2
	}
	sum *= tr.Dt
	sum += (ya + tr.Y[lo]) / 2 * (tr.Time(lo) - iv.From)
	sum += (tr.Y[hi-1] + yb) / 2 * (iv.To - tr.Time(hi-1))
	return finite(sum)
}

// ProductIntegral returns the integral of a·b over iv, in the product of their
// units times seconds; for a voltage and a current it is an energy in joules.
// Both traces are taken as straight lines between their samples, and the
// product of two straight lines is integrated exactly (Simpson's rule), piece
// by piece between all sample instants of both. So the grids may differ, and a
// delay of a fraction of a sample needs no resampling. It is NaN where iv
// reaches out of either trace, is reversed, or holds a sample that is not
// finite.
func ProductIntegral(a, b *Trace, iv Interval) float64 {
	if !(iv.To >= iv.From) {
		return math.NaN()
	}
	sum := 0.0
	t := iv.From
	ya, yb := a.At(t), b.At(t)
	if math.IsNaN(ya + yb + a.At(iv.To) + b.At(iv.To)) {
		return math.NaN()
	}
	if a.T0 == b.T0 && a.Dt == b.Dt { // one grid: on to its last sample inside
		lo, _ := a.Indices(iv)
		for k := lo; k < min(len(a.Y), len(b.Y)); k++ {
			u := a.Time(k)
			if u <= t {
				continue
			}
			if u > iv.To {
				break
			}
			za, zb := a.Y[k], b.Y[k]
			sum += productOfLines(u-t, ya, yb, za, zb)
			t, ya, yb = u, za, zb
		}
	}
	na, nb := newSegment(a, t), newSegment(b, t)
	for t < iv.To {
		u := min(na.t, nb.t, iv.To)
		za, zb := na.at(u), nb.at(u)
		sum += productOfLines(u-t, ya, yb, za, zb)
		t, ya, yb = u, za, zb
		na.passed(t)
		nb.passed(t)
	}
	return finite(sum)
}

// productOfLines is the integral over dt of the product of two straight lines, one from
// ya to za and one from yb to zb.
func productOfLines(dt, ya, yb, za, zb float64) float64 {
	return dt / 6 * (2*ya*yb + ya*zb + za*yb + 2*za*zb)
}

// segment is the straight line to sample k of a trace, at t.
type segment struct {
	tr    *Trace
	k     int
	t     float64
	y     float64 // sample k
	slope float64 // [unit/s]
}

// newSegment returns the segment to the first sample after t.
func newSegment(tr *Trace, t float64) segment {
	s := segment{tr: tr, k: max(int(tr.Pos(t)), 0)}
	s.t = tr.Time(s.k)
	s.passed(t)
	s.draw()
	return s
}

// passed goes on to the segment that follows on t.
func (s *segment) passed(t float64) {
	if s.t > t {
		return
	}
	for s.t <= t {
		s.k++
		s.t = s.tr.Time(s.k)
	}
	s.draw()
}

// draw reads the line off the samples; behind the last one it goes on level.
func (s *segment) draw() {
	last := len(s.tr.Y) - 1
	s.y, s.slope = s.tr.Y[min(s.k, last)], 0
	if s.k > 0 && s.k <= last {
		s.slope = (s.y - s.tr.Y[s.k-1]) / s.tr.Dt
	}
}

// at returns the value on the segment at t.
func (s *segment) at(t float64) float64 {
	if t == s.t {
		return s.y // also where the line to it is not finite
	}
	return s.y - s.slope*(s.t-t)
}

func finite(x float64) float64 {
	if math.IsInf(x, 0) {
		return math.NaN()
	}
	return x
}

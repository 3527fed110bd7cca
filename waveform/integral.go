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
	ka, kb := nextSample(a, t), nextSample(b, t)
	for t < iv.To {
		ta, tb := a.Time(ka), b.Time(kb)
		u := min(ta, tb, iv.To)
		za, zb := a.At(u), b.At(u)
		// ∫ of the product of two lines over [t, u].
		sum += (u - t) / 6 * (2*ya*yb + ya*zb + za*yb + 2*za*zb)
		t, ya, yb = u, za, zb
		for a.Time(ka) <= t {
			ka++
		}
		for b.Time(kb) <= t {
			kb++
		}
	}
	return finite(sum)
}

// nextSample returns the number of the first sample after t.
func nextSample(tr *Trace, t float64) int {
	k := max(int(tr.Pos(t)), 0)
	for tr.Time(k) <= t {
		k++
	}
	return k
}

func finite(x float64) float64 {
	if math.IsInf(x, 0) {
		return math.NaN()
	}
	return x
}

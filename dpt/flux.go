package dpt

import (
	"math"
	"slices"

	"slewbook/waveform"
)

// stretch is a part of an edge in which the freewheeling device conducts, so
// that the loop alone decides the voltage at the sense points:
//
//	bus - v = L·d(i - i_load)/dt + R·(i - i_load) + const
//
// In integral form, flux against current, with a current channel that lags by d:
//
//	∫(bus - v)dt = L·x(t) + R·∫x dt + c0 + c1·t,   x(t) = i(t + d) - i_load(t)
//
// The constants c0 and c1 take up where the integral starts, an error of the
// bus voltage and constant drops. The integral averages the noise that a
// derivative would amplify. (v = V - L·di/dt on both edges: lecture notes on
// power electronics, text seen; the fit itself: common practice.)
type stretch struct {
	e     *edge
	from  float64   // first instant, a sample of v [s]
	step  float64   // from one to the next, a number of samples of v [s]
	flux  []float64 // there, without its mean and, if slope is set, its straight line [V·s]
	sq    float64   // sum of its squares
	load  []float64 // the load current there [A]
	slope bool      // whether c1 is free

	x, integral []float64 // for fitLoop to work in
}

// stretch integrates bus - v over the samples of v inside iv and keeps one in
// every few, in the memory of old; no flux where a sample is over range or missing.
func (a *aligner) stretch(e *edge, iv waveform.Interval, slope bool, every int, old stretch) stretch {
	lo, hi := a.v.Indices(iv)
	every = max(every, 1)
	s := stretch{e: e, from: a.v.Time(lo), slope: slope, step: float64(every) * a.v.Dt}
	n := (hi - lo + every - 1) / every
	if n < 8 || a.lost[hi] > a.lost[lo] {
		return s
	}
	s.flux, s.load, s.x, s.integral = resized(old.flux, n), resized(old.load, n), resized(old.x, n), resized(old.integral, n)
	ramp := e.line.line.Slope / (e.line.bus - e.line.vOn)
	for j := range s.flux {
		k := lo + j*every
		flux := e.bus.level*float64(k-lo)*a.v.Dt - (a.volts[k] - a.volts[lo])
		s.flux[j], s.load[j] = flux, e.load+ramp*flux
	}
	detrend(s.flux, slope)
	s.sq = dot(s.flux, s.flux)
	return s
}

// resized returns a slice of n values, of which nothing is known, in the memory of old
// where that suffices.
func resized(old []float64, n int) []float64 { return slices.Grow(old[:0], n)[:n] }

// running returns the running integral of a trace from its first sample on, and how
// many samples before each are over range or missing: those are left out.
func running(tr *waveform.Trace) (integral []float64, lost []int) {
	integral, lost = make([]float64, len(tr.Y)), make([]int, len(tr.Y)+1)
	sum, n, last := 0.0, 0, math.NaN()
	for k, y := range tr.Y {
		if area := (last + y) / 2 * tr.Dt; !notFinite(area) {
			sum += area
		}
		if integral[k], last = sum, y; notFinite(y) {
			n++
		}
		lost[k+1] = n
	}
	return integral, lost
}

func notFinite(y float64) bool { return y-y != 0 }

// at returns the instant of sample k of the stretch [s].
func (s stretch) at(k int) float64 { return s.from + float64(k)*s.step }

// current sets x to that at the instants of the stretch for a lag d, less that of the
// load, and integral to its integral. It returns false where the record of the current
// does not reach, or is over range or missing.
func (s stretch) current(d float64, x, integral []float64) bool {
	if len(x) == 0 || !cubics(s.e.i, s.from+d, s.step, x) {
		return false
	}
	sum, last, half := 0.0, x[0]-s.load[0], s.step/2
	x[0], integral[0] = last, 0
	for k := 1; k < len(x); k++ {
		now := x[k] - s.load[k]
		sum += (last + now) * half
		x[k], integral[k], last = now, sum, now
	}
	return !notFinite(sum)
}

// freed is current with both freed of what the constants take up.
func (s stretch) freed(d float64, x, integral []float64) bool {
	if !s.current(d, x, integral) {
		return false
	}
	detrend(x, s.slope)
	detrend(integral, s.slope)
	return true
}

// products are sums of products of flux f, current x and its integral y over a stretch,
// all freed of what the constants take up.
type products struct{ fx, fy, xx, xy, yy float64 }

// products returns those for a lag d. The flux is free already; what the constants take
// up of the others is taken off their sums.
func (s stretch) products(d float64) (p products, ok bool) {
	x, y := s.x, s.integral
	if !s.current(d, x, y) {
		return p, false
	}
	n := float64(len(s.flux))
	far := -(n - 1) / 2 // from the middle
	var sx, sy, kx, ky, fx, fy, xx, xy, yy float64
	x, y = x[:len(s.flux)], y[:len(s.flux)]
	for k, f := range s.flux {
		a, b := x[k], y[k]
		sx, sy, kx, ky = sx+a, sy+b, kx+far*a, ky+far*b
		fx, fy = fx+f*a, fy+f*b
		xx, xy, yy = xx+a*a, xy+a*b, yy+b*b
		far++
	}
	p = products{fx, fy, xx - sx*sx/n, xy - sx*sy/n, yy - sy*sy/n}
	if s.slope {
		squares := n * (n*n - 1) / 12
		p.xx, p.xy, p.yy = p.xx-kx*kx/squares, p.xy-kx*ky/squares, p.yy-ky*ky/squares
	}
	return p, true
}

// detrend takes the mean and, if slope is set, the straight line off y.
func detrend(y []float64, slope bool) {
	mean, mid := waveform.Mean(y), float64(len(y)-1)/2
	b := 0.0
	if slope {
		sxy, sxx := 0.0, 0.0
		for k, v := range y {
			x := float64(k) - mid
			sxy += x * (v - mean)
			sxx += x * x
		}
		b = sxy / sxx
	}
	for k := range y {
		y[k] -= mean + b*(float64(k)-mid)
	}
}

func dot(a, b []float64) float64 {
	sum := 0.0
	for k := range a {
		sum += a[k] * b[k]
	}
	return sum
}

// cubic interpolates the trace at t by the cubic through the four samples
// around it (Lagrange), which keeps the shape of an edge better than a straight
// line. It is NaN where they are not all there.
func cubic(tr *waveform.Trace, t float64) float64 {
	p := tr.Pos(t)
	if !(p >= 1 && p < float64(len(tr.Y)-2)) {
		return math.NaN()
	}
	w := lagrange(p - math.Floor(p))
	return w.of(tr.Y[int(p)-1:])
}

// cubics sets out to what cubic returns from t on every step; it returns false where
// the trace does not reach.
func cubics(tr *waveform.Trace, t, step float64, out []float64) bool {
	p, every := tr.Pos(t), step/tr.Dt
	if last := p + float64(len(out)-1)*every; !(p >= 1 && last < float64(len(tr.Y)-2)) {
		return false
	}
	if whole := math.Round(every); math.Abs(every-whole)*float64(len(out)) < 1e-6 {
		// All lie alike between their samples.
		at, w := int(p), lagrange(p-math.Floor(p))
		for k := range out {
			out[k] = w.of(tr.Y[at-1:])
			at += int(whole)
		}
		return true
	}
	for k := range out {
		x := p + float64(k)*every
		w := lagrange(x - math.Floor(x))
		out[k] = w.of(tr.Y[int(x)-1:])
	}
	return true
}

// weights are those of four samples.
type weights [4]float64

// lagrange returns the weights of the cubic through four samples at the fraction u of
// the way from the second to the third.
func lagrange(u float64) weights {
	a, b, c := u-1, u-2, u+1
	return weights{-u * a * b / 6, c * a * b / 2, -u * c * b / 2, u * c * a / 6}
}

func (w *weights) of(y []float64) float64 {
	y = y[:4]
	return w[0]*y[0] + w[1]*y[1] + w[2]*y[2] + w[3]*y[3]
}

// loopFit is what the loop's equation says for one delay.
type loopFit struct {
	d      float64 // [s]
	l      float64 // loop inductance [H]
	r      float64 // resistance of the loop [Ω]
	misfit float64 // mean square of the residual over the stretches, relative to misfitPart of the flux
}

// misfitPart is how well the loop's equation can be expected to hold, relative
// to the flux: unlike bandwidths, capacitances and losses at the ringing
// frequency are not in it.
const misfitPart = 0.03

// fitLoop solves the loop's equation for one delay over all stretches: one
// inductance, one resistance. The ringing alone cannot tell a resistance from a
// delay, so R/L = rho ± rho goes in as one more observation.
func fitLoop(all []stretch, d, rho float64) loopFit {
	var ff, fx, fy, xx, xy, yy, n float64
	for _, s := range all {
		p, ok := s.products(d)
		if !ok || !(s.sq > 0) {
			continue
		}
		w := 1 / (s.sq * misfitPart * misfitPart)
		n++
		ff += w * s.sq
		fx, fy = fx+w*p.fx, fy+w*p.fy
		xx, xy, yy = xx+w*p.xx, xy+w*p.xy, yy+w*p.yy
	}
	fit := loopFit{d: d, l: fx / xx, misfit: math.NaN()}
	if n == 0 {
		return fit
	}
	p := 0.0 // weight of the observation (R - rho·L) = 0 ± rho·L
	if rho > 0 {
		p = 1 / (rho * rho * fit.l * fit.l)
		a11, a12, a22 := xx+p*rho*rho, xy-p*rho, yy+p
		det := a11*a22 - a12*a12
		fit.l, fit.r = (fx*a22-fy*a12)/det, (fy*a11-fx*a12)/det
	}
	off := fit.r - rho*fit.l
	fit.misfit = (ff - 2*fit.l*fx - 2*fit.r*fy + fit.l*fit.l*xx + 2*fit.l*fit.r*xy + fit.r*fit.r*yy + p*off*off) / n
	return fit
}

// spread returns the standard uncertainty of the delay that the residual of a
// fit implies, with its correlation from sample to sample over a lag of reach
// (Newey and West, 1987, from memory): the residual times the change of the
// model with the delay, both freed of what else the fit adjusts.
func (f loopFit) spread(all []stretch, reach float64) float64 {
	const h = 1e-12
	num, den := 0.0, 0.0
	for _, s := range all {
		n := len(s.flux)
		x, y, xm, g := make([]float64, n), make([]float64, n), make([]float64, n), make([]float64, n)
		xp, aside := s.x, s.integral
		if !s.freed(f.d+h, xp, aside) || !s.freed(f.d-h, xm, aside) || !s.freed(f.d, x, y) {
			continue
		}
		w := 1 / s.sq
		for k := range g { // d(model)/d(delay)
			g[k] = f.l * (xp[k] - xm[k]) / (2 * h)
		}
		b := dot(g, x) / dot(x, x)
		z := make([]float64, len(x))
		for k := range g {
			g[k] -= b * x[k]
			z[k] = w * g[k] * (s.flux[k] - f.l*x[k] - f.r*y[k])
			den += w * g[k] * g[k]
		}
		lags := min(int(reach/s.step), len(z)-1)
		for j := 0; j <= lags; j++ {
			c := dot(z[:len(z)-j], z[j:])
			if j > 0 {
				c *= 2 * (1 - float64(j)/float64(lags+1))
			}
			num += c
		}
	}
	if !(den > 0) {
		return math.NaN()
	}
	return math.Sqrt(max(num, 0)) / den
}

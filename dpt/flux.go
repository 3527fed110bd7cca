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
	iv    waveform.Interval // on the axis of v
	t     []float64         // instants: every step-th sample of v inside iv [s]
	step  float64           // their distance [s]
	flux  []float64         // there, without its mean and, if slope is set, its straight line [V·s]
	load  []float64         // the load current there [A]
	slope bool              // whether c1 is free
}

// stretch integrates bus - v over the samples of v inside iv and keeps one in
// every few; none where a sample is over range or missing.
func (a *aligner) stretch(e *edge, iv waveform.Interval, slope bool, every int) stretch {
	lo, hi := a.v.Indices(iv)
	every = max(every, 1)
	s := stretch{e: e, iv: iv, slope: slope, step: float64(every) * a.v.Dt}
	if n := (hi - lo + every - 1) / every; n < 8 || slices.ContainsFunc(a.v.Y[lo:hi], notFinite) {
		return s
	}
	ramp := e.line.line.Slope / (e.line.bus - e.line.vOn)
	for k := lo; k < hi; k += every {
		flux := e.bus.level*float64(k-lo)*a.v.Dt - (a.volts[k] - a.volts[lo])
		s.t = append(s.t, a.v.Time(k))
		s.flux = append(s.flux, flux)
		s.load = append(s.load, e.load+ramp*flux)
	}
	detrend(s.flux, slope)
	return s
}

// running returns the running integral of a trace from its first sample on; samples
// over range or missing are left out.
func running(tr *waveform.Trace) []float64 {
	out := make([]float64, len(tr.Y))
	for k := 1; k < len(out); k++ {
		out[k] = out[k-1]
		if area := (tr.Y[k-1] + tr.Y[k]) / 2 * tr.Dt; !notFinite(area) {
			out[k] += area
		}
	}
	return out
}

func notFinite(y float64) bool { return y-y != 0 }

// current returns x at the instants of the stretch for a lag d, and its
// integral, both freed of what the constants take up. They are nil where the
// record of the current does not reach.
func (s stretch) current(d float64) (x, integral []float64) {
	n := len(s.t)
	x, integral = make([]float64, n), make([]float64, n)
	for k, t := range s.t {
		y := cubic(s.e.i, t+d)
		if y-y != 0 {
			return nil, nil
		}
		x[k] = y - s.load[k]
		if k > 0 {
			integral[k] = integral[k-1] + (x[k-1]+x[k])/2*s.step
		}
	}
	detrend(x, s.slope)
	detrend(integral, s.slope)
	return x, integral
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
	k := int(p)
	u := p - float64(k)
	y := tr.Y[k-1 : k+3]
	return -u*(u-1)*(u-2)/6*y[0] + (u*u-1)*(u-2)/2*y[1] - u*(u+1)*(u-2)/2*y[2] + u*(u*u-1)/6*y[3]
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
		x, y := s.current(d)
		sq := dot(s.flux, s.flux)
		if x == nil || !(sq > 0) {
			continue
		}
		w := 1 / (sq * misfitPart * misfitPart)
		n++
		ff += w * sq
		fx += w * dot(s.flux, x)
		fy += w * dot(s.flux, y)
		xx += w * dot(x, x)
		xy += w * dot(x, y)
		yy += w * dot(y, y)
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
		x, y := s.current(f.d)
		xp, _ := s.current(f.d + h)
		xm, _ := s.current(f.d - h)
		if x == nil || xp == nil || xm == nil {
			continue
		}
		w := 1 / dot(s.flux, s.flux)
		g := make([]float64, len(x)) // d(model)/d(delay)
		for k := range g {
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

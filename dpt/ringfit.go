package dpt

import (
	"math"

	"slewbook/waveform"
)

// ringFit is a fitted decaying oscillation.
type ringFit struct {
	omega, alpha           float64 // [1/s]
	uOmega, uAlpha         float64 // standard uncertainties from the residual [1/s]
	laterOmega, laterAlpha float64 // by how much the later part of it alone differs [1/s]
	from                   float64 // where t is zero [s]
	level, a, b            float64 // c, a and b [unit]
	amplitude              float64 // root mean square of the oscillation [unit]
	residual               float64 // of what is left [unit]
}

// scanned is how many samples of a period the scan of the frequency needs, and
// averaged how many means of neighbours tell frequency and decay.
const scanned, averaged = 24, 48

// fitRing minimises the residual over ω and α near ω; level and amplitudes are
// linear and follow from them.
func fitRing(tr *waveform.Trace, iv waveform.Interval, omega float64) ringFit {
	lo, hi := tr.Indices(iv)
	s := newRingSamples(tr.Y[lo:hi], omega*tr.Dt)
	// The sum has a minimum for every period that fits in more or less, so the
	// frequency is scanned first.
	period := 2 * math.Pi / (omega * tr.Dt)
	coarse := s.every(int(period / scanned))
	w, a, least := 1.0, 0.02, math.Inf(1)
	for k := range 31 {
		for _, decay := range []float64{0.005, 0.03, 0.1} {
			if p := coarse.fit(0.85+0.01*float64(k), decay); p.sum < least {
				w, a, least = p.w, p.a, p.sum
			}
		}
	}
	near := s.means(int(period/averaged)).descend(w, a)
	best := s.project(near.w, near.a)
	n := float64(len(s.y))
	fit := ringFit{omega: best.w * omega, alpha: best.a * omega, from: tr.Time(lo), level: s.mean + best.c[0], a: best.c[1], b: best.c[2],
		residual: math.Sqrt(best.sum / n), amplitude: waveform.StdDev(tr.Y[lo:hi])}
	// Curvature of the sum of squares gives the uncertainties.
	const h = 1e-4
	variance := 2 * best.sum / max(n-5, 1)
	u := func(up, down ringProjection) float64 {
		return omega * math.Sqrt(variance*h*h/(up.sum-2*best.sum+down.sum))
	}
	fit.uOmega = u(s.project(best.w+h, best.a), s.project(best.w-h, best.a))
	fit.uAlpha = u(s.project(best.w, best.a+h), s.project(best.w, best.a-h))
	return fit
}

// ringSamples are the samples of a ringing less their mean, which keeps the sums
// below from losing digits, and the phase from one to the next at the frequency
// that it is looked for at.
type ringSamples struct {
	y     []float64
	mean  float64
	phase float64 // [rad]
}

func newRingSamples(y []float64, phase float64) ringSamples {
	s := ringSamples{y: make([]float64, len(y)), phase: phase}
	for _, x := range y {
		s.mean += x / float64(len(y))
	}
	for k, x := range y {
		s.y[k] = x - s.mean
	}
	return s
}

// every returns each nth of the samples.
func (s ringSamples) every(n int) ringSamples {
	if n <= 1 {
		return s
	}
	out := ringSamples{mean: s.mean, phase: s.phase * float64(n)}
	for k := 0; k < len(s.y); k += n {
		out.y = append(out.y, s.y[k])
	}
	return out
}

// means returns the mean of each n neighbours. That of a decaying oscillation is one of
// the same frequency and decay.
func (s ringSamples) means(n int) ringSamples {
	if n <= 1 {
		return s
	}
	out := ringSamples{mean: s.mean, phase: s.phase * float64(n)}
	for k := 0; k+n <= len(s.y); k += n {
		out.y = append(out.y, waveform.Mean(s.y[k:k+n]))
	}
	return out
}

// ringProjection is the best fit at a frequency and a decay, both relative to the
// frequency that is looked for: level, cosine, sine, and the sum of squares of what
// is left.
type ringProjection struct {
	w, a float64
	c    [3]float64
	sum  float64
}

// step is the factor from one sample of exp(-a·φ)·exp(i·w·φ) to the next.
func (s ringSamples) step(w, a float64) complex128 {
	sin, cos := math.Sincos(w * s.phase)
	env := math.Exp(-a * s.phase)
	return complex(env*cos, env*sin)
}

// fit fits level and amplitudes, by the normal equations of three columns. The sum of
// squares of what is left is what the fit takes off that of the samples, which is good
// enough to scan with.
func (s ringSamples) fit(w, a float64) ringProjection {
	out := ringProjection{w: w, a: a, sum: math.Inf(1)}
	var c, d, cc, cd, dd, y, yc, yd, yy float64
	z, q := complex(1, 0), s.step(w, a)
	for _, x := range s.y {
		re, im := real(z), imag(z)
		c += re
		d += im
		cc += re * re
		cd += re * im
		dd += im * im
		y += x
		yc += x * re
		yd += x * im
		yy += x * x
		z *= q
	}
	out.c = [3]float64{y, yc, yd}
	if cholesky([]float64{float64(len(s.y)), c, cc, d, cd, dd}, out.c[:]) {
		out.sum = yy - out.c[0]*y - out.c[1]*yc - out.c[2]*yd
	}
	return out
}

// project is fit with the sum of squares of what is left summed up itself.
func (s ringSamples) project(w, a float64) ringProjection {
	out := s.fit(w, a)
	if math.IsInf(out.sum, 1) {
		return out
	}
	out.sum = 0
	z, q := complex(1, 0), s.step(w, a)
	for _, x := range s.y {
		r := x - out.c[0] - out.c[1]*real(z) - out.c[2]*imag(z)
		out.sum += r * r
		z *= q
	}
	return out
}

// descend follows the sum of squares down from a start: Levenberg and Marquardt on
// frequency and decay, level and amplitudes projected anew at each step.
func (s ringSamples) descend(w, a float64) ringProjection {
	best := s.project(w, a)
	damping := 1e-3
	for range 60 {
		dw, da, ok := s.direction(best, damping)
		if !ok || math.Hypot(dw, da) < 1e-9 { // far less than is known of either
			return best
		}
		next := s.project(best.w+dw, best.a+da)
		if !(next.sum < best.sum) {
			if damping *= 10; damping > 1e6 {
				return best
			}
			continue
		}
		gain := best.sum - next.sum
		best, damping = next, damping/10
		if gain < 1e-14*best.sum {
			return best
		}
	}
	return best
}

// direction is the damped step of Gauss and Newton in all five unknowns, of which
// those of frequency and decay are taken.
func (s ringSamples) direction(p ringProjection, damping float64) (dw, da float64, ok bool) {
	var normal [15]float64
	var step [5]float64
	z, q := complex(1, 0), s.step(p.w, p.a)
	for k, x := range s.y {
		re, im := real(z), imag(z)
		phase := float64(k) * s.phase
		wave := p.c[1]*re + p.c[2]*im
		row := [5]float64{1, re, im, phase * (p.c[2]*re - p.c[1]*im), -phase * wave}
		left := x - p.c[0] - wave
		at := 0
		for i, a := range row {
			for _, b := range row[:i+1] {
				normal[at] += a * b
				at++
			}
			step[i] += a * left
		}
		z *= q
	}
	for i := range step {
		normal[i*(i+3)/2] *= 1 + damping
	}
	ok = cholesky(normal[:], step[:])
	return step[3], step[4], ok
}

// cholesky solves the symmetric equations a·x = b in place: a holds the rows of the
// lower triangle. It returns false where a is not positive definite.
func cholesky(a, b []float64) bool {
	row := func(i int) []float64 { return a[i*(i+1)/2:][: i+1 : i+1] }
	for i := range b {
		ri := row(i)
		for j := range ri {
			rj := row(j)
			sum := ri[j]
			for k := range j {
				sum -= ri[k] * rj[k]
			}
			switch {
			case j < i:
				ri[j] = sum / rj[j]
			case sum > 0:
				ri[i] = math.Sqrt(sum)
			default: // NaN as well
				return false
			}
		}
		for k := range i {
			b[i] -= ri[k] * b[k]
		}
		b[i] /= ri[i]
	}
	for i := len(b) - 1; i >= 0; i-- {
		b[i] /= row(i)[i]
		for k := range i {
			b[k] -= row(i)[k] * b[i]
		}
	}
	return true
}

package dpt

import (
	"math"

	"gonum.org/v1/gonum/mat"

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

// scanned is how many samples of a period the scan of the frequency needs.
const scanned = 24

// fitRing minimises the residual over ω and α near ω; level and amplitudes are
// linear and follow from them.
func fitRing(tr *waveform.Trace, iv waveform.Interval, omega float64) ringFit {
	lo, hi := tr.Indices(iv)
	s := newRingSamples(tr.Y[lo:hi], omega*tr.Dt)
	// The sum has a minimum for every period that fits in more or less, so the
	// frequency is scanned first.
	coarse := s.every(int(2 * math.Pi / (omega * tr.Dt) / scanned))
	w, a, least := 1.0, 0.02, math.Inf(1)
	for k := range 31 {
		for _, decay := range []float64{0.005, 0.03, 0.1} {
			if p := coarse.project(0.85+0.01*float64(k), decay); p.sum < least {
				w, a, least = p.w, p.a, p.sum
			}
		}
	}
	best := s.descend(w, a)
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

// project fits level and amplitudes, by the normal equations of three columns.
func (s ringSamples) project(w, a float64) ringProjection {
	out := ringProjection{w: w, a: a, sum: math.Inf(1)}
	var c, d, cc, cd, dd, y, yc, yd float64
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
		z *= q
	}
	var chol mat.Cholesky
	if !chol.Factorize(mat.NewSymDense(3, []float64{float64(len(s.y)), c, d, c, cc, cd, d, cd, dd})) {
		return out
	}
	if chol.SolveVecTo(mat.NewVecDense(3, out.c[:]), mat.NewVecDense(3, []float64{y, yc, yd})) != nil {
		return out
	}
	out.sum = 0
	z = complex(1, 0)
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
		if !ok {
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
	var normal [25]float64
	var right [5]float64
	z, q := complex(1, 0), s.step(p.w, p.a)
	for k, x := range s.y {
		re, im := real(z), imag(z)
		phase := float64(k) * s.phase
		wave := p.c[1]*re + p.c[2]*im
		row := [5]float64{1, re, im, phase * (p.c[2]*re - p.c[1]*im), -phase * wave}
		left := x - p.c[0] - wave
		for i, a := range row {
			for j, b := range row[:i+1] {
				normal[5*j+i] += a * b
			}
			right[i] += a * left
		}
		z *= q
	}
	for i := range 5 {
		normal[6*i] *= 1 + damping
	}
	var chol mat.Cholesky
	var step mat.VecDense
	if !chol.Factorize(mat.NewSymDense(5, normal[:])) || chol.SolveVecTo(&step, mat.NewVecDense(5, right[:])) != nil {
		return 0, 0, false
	}
	return step.AtVec(3), step.AtVec(4), true
}

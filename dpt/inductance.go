package dpt

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"slewbook/dpt/result"
)

// inductance reads the loop inductance outside the sense points from the rise
// of the current at the turn-ons, with the delay known: there the current is no
// capacitance's, so that the stray capacitance of the load, which carries a part
// of the loop's current past the sensor, shows apart:
//
//	∫(bus - v)dt = L·(x + C·dv/dt) + R·∫x dt + c0
//
// R and C enter as weakly known: R by the decay of the ringing, C as a part of
// the capacitance that the loop rings with. Where there is no turn-on it is NaN.
// Its lines are what the equation itself leaves open, R and C included, and what
// the delay does.
func (a *aligner) inductance(w view, est alignment) (l float64, lines []result.Contribution) {
	rises := w.rises(est.delay)
	if len(rises) == 0 {
		return math.NaN(), nil
	}
	l, u := a.fitRise(rises, est.delay)
	later, _ := a.fitRise(w.rises(est.delay+est.u), est.delay+est.u)
	return l, []result.Contribution{
		{Source: "what the loop's equation leaves open", U: u, Unit: "H", Effect: u, Scope: result.OfRun, Basis: fromCapture},
		{Source: delaySource, U: est.u, Unit: "s", Effect: later - l, Scope: result.OfRun, Basis: fromCapture},
	}
}

// leastDecay is the least damping ratio that a loop is taken to have.
const leastDecay = 0.005

// fitRise solves for L, with R and C known to within what is thought of them, and
// returns it with its standard uncertainty: the equation is taken to hold to
// misfitPart of the flux, over each stretch as a whole.
func (a *aligner) fitRise(rises []stretch, d float64) (l, u float64) {
	normal := mat.NewSymDense(3, nil)
	right := mat.NewVecDense(3, nil)
	l0 := math.NaN()
	for _, s := range rises {
		x, y := s.x, s.integral
		if !s.freed(d, x, y) {
			continue
		}
		z := make([]float64, len(x))
		for k := range z {
			h := s.e.v.Dt
			z[k] = (s.e.v.At(s.at(k)+h) - s.e.v.At(s.at(k)-h)) / (2 * h)
		}
		detrend(z, false)
		weight := 1 / (s.sq * misfitPart * misfitPart)
		cols := [][]float64{x, y, z}
		for i := range cols {
			right.SetVec(i, right.AtVec(i)+weight*dot(s.flux, cols[i]))
			for j := range i + 1 {
				normal.SetSym(i, j, normal.At(i, j)+weight*dot(cols[i], cols[j]))
			}
		}
		l0 = dot(s.flux, x) / dot(x, x)
	}
	if a.period > 0 {
		omega := 2 * math.Pi / a.period
		// The observations R = decay·L ± decay·L and L·C = 0 ± 0.3/ω².
		decay := max(a.decay, leastDecay*omega)
		r := decay * l0
		c := 0.3 / (omega * omega)
		normal.SetSym(0, 0, normal.At(0, 0)+decay*decay/(r*r))
		normal.SetSym(0, 1, normal.At(0, 1)-decay/(r*r))
		normal.SetSym(1, 1, normal.At(1, 1)+1/(r*r))
		normal.SetSym(2, 2, normal.At(2, 2)+1/(c*c))
	}
	equations, values := scaled(normal, right)
	var chol mat.Cholesky
	var out mat.VecDense
	var covariance mat.SymDense
	if !chol.Factorize(equations) || chol.SolveVecTo(&out, values) != nil || chol.InverseTo(&covariance) != nil {
		return math.NaN(), math.NaN()
	}
	return out.AtVec(0) * scaleOf(normal, 0), math.Sqrt(covariance.At(0, 0)) * scaleOf(normal, 0)
}

// scaleOf is the factor that gives row k of the normal equations a diagonal of
// one, since volt-seconds per ampere and per volt a second are worlds apart.
func scaleOf(normal *mat.SymDense, k int) float64 { return 1 / math.Sqrt(normal.At(k, k)) }

func scaled(normal *mat.SymDense, right *mat.VecDense) (*mat.SymDense, *mat.VecDense) {
	n := normal.SymmetricDim()
	m, v := mat.NewSymDense(n, nil), mat.NewVecDense(n, nil)
	for i := range n {
		v.SetVec(i, right.AtVec(i)*scaleOf(normal, i))
		for j := range i + 1 {
			m.SetSym(i, j, normal.At(i, j)*scaleOf(normal, i)*scaleOf(normal, j))
		}
	}
	return m, v
}

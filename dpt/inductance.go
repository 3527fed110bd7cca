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
// Its uncertainty is that of the delay, what R, C and the stretch do to it, and how far
// the equation itself holds.
func (a *aligner) inductance(w view, est alignment) (l float64, lines []result.Contribution) {
	rises := w.rises(est.delay)
	if len(rises) == 0 {
		return math.NaN(), nil
	}
	l = a.fitRise(rises, est.delay, 1, 1)
	add := func(source string, u float64, unit string, effect float64) {
		lines = append(lines, result.Contribution{Source: source, U: u, Unit: unit, Effect: effect, Scope: result.OfRun, Basis: fromCapture})
	}
	add("what the loop's equation leaves out", misfitPart, "1", misfitPart*l)
	add(delaySource, est.u, "s", a.fitRise(w.rises(est.delay+est.u), est.delay+est.u, 1, 1)-l)
	// That the ringing is damped in the loop, and that a part of its capacitance is beside
	// the sensor, is thought only: each is nearly left out.
	add("resistance of the loop", weakly, "1", a.fitRise(rises, est.delay, 1-weakly, 1)-l)
	add("capacitance beside the sensor", weakly, "1", a.fitRise(rises, est.delay, 1, 1-weakly)-l)
	return l, lines
}

// weakly is the part of what is thought of R and C that it is doubted by.
const weakly = 0.9

// fitRise solves for L with R and C known to within scaleR and scaleC times
// what is thought of them.
func (a *aligner) fitRise(rises []stretch, d, scaleR, scaleC float64) float64 {
	normal := mat.NewSymDense(3, nil)
	right := mat.NewVecDense(3, nil)
	l0 := math.NaN()
	for _, s := range rises {
		x, y := s.x, s.integral
		if !s.current(d, x, y) {
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
		r := scaleR * a.decay * l0
		c := scaleC * 0.3 / (omega * omega)
		normal.SetSym(0, 0, normal.At(0, 0)+a.decay*a.decay/(r*r))
		normal.SetSym(0, 1, normal.At(0, 1)-a.decay/(r*r))
		normal.SetSym(1, 1, normal.At(1, 1)+1/(r*r))
		normal.SetSym(2, 2, normal.At(2, 2)+1/(c*c))
	}
	var out mat.VecDense
	if out.SolveVec(scaled(normal, right)) != nil {
		return math.NaN()
	}
	return out.AtVec(0) * scaleOf(normal, 0)
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

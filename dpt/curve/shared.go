package curve

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"slewbook/dpt/result"
)

// common gives the fit what the points have in common, which no number of points
// averages out: the share that was given; else by the points' budgets; else the
// smallest relative uncertainty among them.
func (s *system) common(f *Fit, given float64) {
	switch {
	case !math.IsNaN(given):
		f.Common = given
	case !slices.ContainsFunc(s.points, func(p Point) bool { return p.Budget == nil }):
		f.Shared = s.shifts()
	default:
		f.Common = leastRelative(s.points)
	}
}

func leastRelative(points []Point) float64 {
	least := math.Inf(1)
	for _, p := range points {
		if u := p.U / math.Abs(p.Y); u < least {
			least = u
		}
	}
	if math.IsInf(least, 1) {
		return 0
	}
	return least
}

// shifts returns, for each input that points of one bench share, by how much its
// standard uncertainty moves the parameters: (JᵀJ)⁻¹·Jᵀ·effect/sigma. A gain scales
// the whole fit, a zero bends it where the points are small.
func (s *system) shifts() [][]float64 {
	type input struct{ bench, source string }
	at := map[input]int{}
	var effects [][]float64
	for k, p := range s.points {
		for _, c := range p.Budget {
			if !c.Scope.Shared() {
				continue
			}
			in := input{p.Bench, c.Source}
			if c.Scope == result.OfReference {
				in.bench = ""
			}
			j, ok := at[in]
			if !ok {
				j = len(effects)
				at[in] = j
				effects = append(effects, make([]float64, len(s.points)))
			}
			effects[j][k] += c.Effect / s.sigma[k]
		}
	}
	j := s.jacobian(false)
	norms, _ := columnNorms(j)
	scaled := scaledColumns(j, norms)
	var qr mat.QR
	qr.Factorize(scaled)
	out := [][]float64{}
	for _, e := range effects {
		var shift mat.VecDense
		if err := qr.SolveVecTo(&shift, false, mat.NewVecDense(len(e), e)); err != nil {
			return nil // Cov says that the points do not determine the parameters
		}
		p := make([]float64, len(norms))
		for a := range p {
			p[a] = shift.AtVec(a) / norms[a]
		}
		out = append(out, p)
	}
	return out
}

// shared is the standard uncertainty of a fitted value y that stems from what the
// points have in common; grad are the derivatives of y by the parameters.
func (f *Fit) shared(y float64, grad []float64) float64 {
	sum := f.Common * f.Common * y * y
	for _, shift := range f.Shared {
		d := dot(grad, shift)
		sum += d * d
	}
	return math.Sqrt(sum)
}

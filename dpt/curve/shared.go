package curve

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"slewbook/dpt/result"
	"slewbook/dpt/uncertainty"
)

// common gives the fit what the points have in common, which no number of points
// averages out: the share that was given; else by the points' budgets; else the
// smallest relative uncertainty among them.
func (s *system) common(f *Fit, given float64) {
	switch {
	case !math.IsNaN(given):
		f.Common = given
	case !slices.ContainsFunc(s.points, func(p Point) bool { return p.Budget == nil }):
		inputs, effects := s.inputs()
		if shifts := s.shifts(effects); shifts != nil {
			f.SharedBy, f.Shared = inputs, shifts
		}
	default:
		f.Common = leastRelative(s.points)
	}
	if f.Common > 0 {
		effects := make([]float64, len(s.points))
		for k, p := range s.points {
			effects[k] = f.Common * s.m.Eval(s.p, p.At) / s.sigma[k]
		}
		if shifts := s.shifts([][]float64{effects}); shifts != nil {
			f.byCommon = shifts[0]
		}
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

// SharedInput names an input whose error all points of a bench share. Inputs of one
// name and bench are the same in every quantity of a campaign.
type SharedInput struct {
	Source string `json:"source"` // "gain of vds"
	Bench  string `json:"bench"`  // "" for a reference that benches have in common, or an unnamed bench
}

// shared returns the input that a line of the point's budget shares with other shots,
// false where it is its own. What is left of delays that were estimated and taken out is
// another input than a lag that was left in.
func (p Point) shared(c result.Contribution) (SharedInput, bool) {
	in := SharedInput{c.Source, p.Bench}
	switch c.Scope {
	case result.OfReference:
		in.Bench = ""
	case result.OfRun:
		in.Source += ", as estimated"
	}
	return in, c.Scope.Shared()
}

// shares lists the inputs that a point shares with other shots.
func (p Point) shares() []SharedInput {
	var out []SharedInput
	for _, c := range p.Budget {
		if in, ok := p.shared(c); ok && !slices.Contains(out, in) {
			out = append(out, in)
		}
	}
	return out
}

// own is the part of a point's U that no other point of the fit shares, such as that of
// a delay which could be taken out of all shots but one; all of it where there is no
// budget.
func (s *system) own(p Point) float64 {
	if p.Budget == nil {
		return p.U
	}
	var lines []result.Contribution
	for _, c := range p.Budget {
		if in, ok := p.shared(c); !ok || s.owners[in] == 1 {
			lines = append(lines, c)
		}
	}
	return uncertainty.Total(lines)
}

// inputs returns each input that points of one bench share, and what its standard
// uncertainty does to each point, over sigma.
func (s *system) inputs() (inputs []SharedInput, effects [][]float64) {
	at := map[SharedInput]int{}
	for k, p := range s.points {
		for _, c := range p.Budget {
			in, ok := p.shared(c)
			if !ok || s.owners[in] == 1 {
				continue
			}
			j, ok := at[in]
			if !ok {
				j = len(effects)
				at[in] = j
				inputs = append(inputs, in)
				effects = append(effects, make([]float64, len(s.points)))
			}
			effects[j][k] += c.Effect / s.sigma[k]
		}
	}
	return inputs, effects
}

// shifts returns by how much effects on the points move the parameters:
// (JᵀJ)⁻¹·Jᵀ·effect/sigma. A gain scales the whole fit, a zero bends it where the
// points are small. It is nil where the points do not determine the parameters.
func (s *system) shifts(effects [][]float64) [][]float64 {
	j := s.jacobian(false)
	norms, _ := columnNorms(j)
	scaled := scaledColumns(j, norms)
	var qr mat.QR
	qr.Factorize(scaled)
	shifts := [][]float64{}
	for _, e := range effects {
		var shift mat.VecDense
		if err := qr.SolveVecTo(&shift, false, mat.NewVecDense(len(e), e)); err != nil {
			return nil // Cov says so, too
		}
		p := make([]float64, len(norms))
		for a := range p {
			p[a] = shift.AtVec(a) / norms[a]
		}
		shifts = append(shifts, p)
	}
	return shifts
}

// sharedU returns the standard uncertainty of parameter k from what the points share.
func (f *Fit) sharedU(k int) float64 {
	sum := 0.0
	for _, shift := range append(f.Shared[:len(f.Shared):len(f.Shared)], f.byCommon) {
		if shift != nil {
			sum += shift[k] * shift[k]
		}
	}
	return math.Sqrt(sum)
}

// Half returns half the width of the 95 % interval of parameter k: of the fit, by its
// Coverage, and of what the points share, by two standard uncertainties.
func (f *Fit) Half(k int) float64 { return math.Hypot(f.Coverage()*f.U(k), 2*f.sharedU(k)) }

// inputs lists what the points have in common, in the order of effects.
func (f *Fit) inputs() []SharedInput {
	if f.Common > 0 {
		return append([]SharedInput{{Source: "what all shots share"}}, f.SharedBy...)
	}
	return f.SharedBy
}

// effects returns by how much one standard uncertainty of each of the inputs moves a
// fitted value y; grad are the derivatives of y by the parameters.
func (f *Fit) effects(y float64, grad []float64) []float64 {
	var out []float64
	if f.Common > 0 {
		out = append(out, f.Common*y)
	}
	for _, shift := range f.Shared {
		out = append(out, dot(grad, shift))
	}
	return out
}

package curve

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// LeftOut is the check by leaving out one point at a time: how well the others
// foretell it.
type LeftOut struct {
	N     int     // points that could be left out
	RMS   float64 // of (value - foretold)/value
	Worst float64 // largest of it by size, with its sign
	At    string  // the point's name
}

// mostRefits is the number of points up to which the fit is done again without
// each; beyond, leverage tells the same to first order.
const mostRefits = 30

// leaveOut foretells each point from the others.
func (f *Fit) leaveOut(opt Options, s *system) {
	f.Left = LeftOut{RMS: math.NaN(), Worst: math.NaN()}
	foretell := f.refit(opt)
	if len(f.Points) > mostRefits {
		foretell = f.byLeverage(s)
	}
	sum := 0.0
	for k, p := range f.Points {
		foretold := foretell(k)
		if p.Y == 0 || math.IsNaN(foretold) {
			continue
		}
		f.Points[k].LeftOut = foretold
		off := (p.Y - foretold) / p.Y
		sum += off * off
		f.Left.N++
		if !(math.Abs(off) <= math.Abs(f.Left.Worst)) {
			f.Left.Worst, f.Left.At = off, p.Name
		}
	}
	if f.Left.N > 0 {
		f.Left.RMS = math.Sqrt(sum / float64(f.Left.N))
	}
}

// refit fits all points but one; NaN where they do not determine the model.
func (f *Fit) refit(opt Options) func(int) float64 {
	points := make([]Point, len(f.Points))
	for k, p := range f.Points {
		points[k] = p.Point
	}
	all := func([]Point) []float64 { return slices.Clone(f.P) } // near where the fit without one ends
	return func(k int) float64 {
		rest := append(append([]Point{}, points[:k]...), points[k+1:]...)
		part, _, err := solveFrom(all, f.Model, rest, opt)
		if err != nil {
			return math.NaN()
		}
		return f.Model.Eval(part.P, points[k].At)
	}
}

// byLeverage returns y - (y - fitted)/(1 - h), where h is the diagonal of
// J(JᵀJ)⁻¹Jᵀ with the robust weights: exact for a linear model whose weights
// stay (Cook and Weisberg, from memory).
func (f *Fit) byLeverage(s *system) func(int) float64 {
	var qr mat.QR
	j := s.jacobian(true)
	norms, err := columnNorms(j)
	if err != nil {
		return func(int) float64 { return math.NaN() }
	}
	_, np := j.Dims()
	qr.Factorize(scaledColumns(j, norms))
	var q mat.Dense
	qr.QTo(&q)
	return func(k int) float64 {
		h := 0.0
		for c := range np {
			h += q.At(k, c) * q.At(k, c)
		}
		p := f.Points[k]
		if h > 1-1e-9 {
			return math.NaN()
		}
		return p.Y - (p.Y-p.Fitted)/(1-h)
	}
}

// Misfit returns how far the form of the model misses what was measured, as a standard
// uncertainty relative to the value: by what the others foretell a point worse than its
// own u explains. It does not average out with more points, as the covariance does. NaN
// where no point could be left out.
//
//	√max(0, RMS² - mean((σ/y)²))
func (f *Fit) Misfit() float64 {
	return math.Sqrt(max(0, f.Left.RMS*f.Left.RMS-f.own*f.own))
}

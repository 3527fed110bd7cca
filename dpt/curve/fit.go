package curve

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"
)

// Options of a fit.
type Options struct {
	Robust Robust
	// Common is the standard uncertainty, relative to the value, that all
	// points share (gains of the channels, say). It does not average out, so it
	// is added to what the fit gives. NaN takes it from the points' budgets, each
	// shared input by what it does to the fit; where they have none, the smallest
	// relative uncertainty among them, since most of it is the set-up's.
	Common float64
}

// Defaults returns the options of slewbook curves.
func Defaults() Options { return Options{Robust: Huber, Common: math.NaN()} }

// Validate checks the options.
func (o Options) Validate() error {
	if o.Common < 0 || math.IsInf(o.Common, 0) {
		return fmt.Errorf("common uncertainty %g: expected a share of the value, 0 or more", o.Common)
	}
	return o.Robust.Validate()
}

// Fit is a fitted model.
type Fit struct {
	Model    Model
	P        []float64     // parameters, in the order of Model.Params
	Cov      [][]float64   // their covariance, the common part left out
	Shared   [][]float64   // what the inputs that points share do to the parameters, one row an input; nil where Common stands for them
	SharedBy []SharedInput // those inputs
	Free     int           // degrees of freedom: points less parameters
	Scale    float64       // scatter of the points about the fit, in units of their u; NaN without u
	Robust   Robust        // as used: plain where too few points are left over
	Common   float64       // relative standard uncertainty that all points share, beside Shared
	byCommon []float64     // what it does to the parameters
	Basis    string        // what the covariance rests on, a sentence
	Points   []Residual
	Left     LeftOut
	coverage float64
	own      float64 // RMS of the points' u, its shared part left out, relative to their values; 0 without u
}

// Residual is a point with what the fit makes of it.
type Residual struct {
	Point
	Fitted  float64 // value of the fit at the point
	Weight  float64 // its robust weight, 1 = full
	Outlier bool    // farther off than three robust scales; it is kept
	LeftOut float64 // value of the fit to all other points; NaN where they do not suffice
}

// Least fits the model to the points by least squares, each point weighted by
// 1/u² (alike where one has no u) and, iterated, by its robust weight. The
// scatter of the points about the fit decides the covariance where three or
// more degrees of freedom are left, else their u does.
//
// Nonlinear models are solved by the Levenberg-Marquardt method. An error says
// that the points do not determine the parameters.
func Least(m Model, points []Point, opt Options) (*Fit, error) {
	f, s, err := solve(m, points, opt)
	if err != nil {
		return nil, err
	}
	f.leaveOut(opt, s)
	return f, nil
}

// solve fits from where the model starts.
func solve(m Model, points []Point, opt Options) (*Fit, *system, error) {
	return solveFrom(m.Start, m, points, opt)
}

// solveFrom fits from parameters that start gives of the usable points.
func solveFrom(start func([]Point) []float64, m Model, points []Point, opt Options) (*Fit, *system, error) {
	if err := opt.Validate(); err != nil {
		return nil, nil, err
	}
	points, err := usable(points, m)
	if err != nil {
		return nil, nil, err
	}
	s := newSystem(m, points, start(points))
	f := &Fit{Model: m, Free: len(points) - len(m.Params()), Robust: opt.Robust}
	f.coverage = coverage(f.Free)
	if f.Free < leastFree {
		f.Robust = Plain
	}
	if err := s.iterate(f); err != nil {
		return nil, nil, fmt.Errorf("%s: %w", m.Formula(), err)
	}
	f.P = s.p
	s.covariance(f)
	s.common(f, opt.Common)
	for k, p := range points {
		r := s.residual[k] / f.scaleOr1()
		f.Points = append(f.Points, Residual{Point: p, Fitted: m.Eval(s.p, p.At), Weight: s.robust[k],
			Outlier: f.Free >= leastFree && math.Abs(r) > outlierAt, LeftOut: math.NaN()})
	}
	f.own = s.ownRMS()
	if !s.known {
		f.Scale = math.NaN()
	}
	return f, s, nil
}

func (f *Fit) scaleOr1() float64 {
	if f.Scale > 0 {
		return f.Scale
	}
	return 1
}

// system is a model with its points on the way to a solution.
type system struct {
	m        Model
	points   []Point
	sigma    []float64           // what a residual is divided by
	known    bool                // sigma is u, its shared part left out
	owners   map[SharedInput]int // how many points each shared input has
	robust   []float64
	p        []float64
	residual []float64 // (y - fit)/sigma
}

func newSystem(m Model, points []Point, start []float64) *system {
	s := &system{m: m, points: points, known: true, p: start}
	s.owners = map[SharedInput]int{}
	for _, p := range points {
		for _, in := range p.shares() {
			s.owners[in]++
		}
	}
	for _, p := range points {
		own := s.own(p)
		s.sigma, s.robust = append(s.sigma, own), append(s.robust, 1)
		s.known = s.known && own > 0 && !math.IsInf(own, 1)
	}
	if !s.known {
		for k := range s.sigma {
			s.sigma[k] = meanSize(points)
		}
	}
	s.residual = make([]float64, len(points))
	return s
}

func meanSize(points []Point) float64 {
	sum := 0.0
	for _, p := range points {
		sum += math.Abs(p.Y) / float64(len(points))
	}
	if sum == 0 {
		return 1
	}
	return sum
}

const (
	mostRounds = 1000  // of robust weights
	moving     = 50    // rounds in which their scale follows them
	settled    = 1e-10 // relative change of the parameters that ends them
)

// iterate solves, with robust weights until they settle.
func (s *system) iterate(f *Fit) error {
	// The bisquare has several minima: Huber's leads to the right one.
	rules := []Robust{Plain}
	switch f.Robust {
	case Huber:
		rules = []Robust{Plain, Huber}
	case Bisquare:
		rules = []Robust{Plain, Huber, Bisquare}
	}
	for _, rule := range rules {
		for round := 0; ; round++ {
			before := append([]float64{}, s.p...)
			if err := s.marquardt(); err != nil {
				return err
			}
			if rule == Plain || round > 0 && (f.Scale == 0 || near(before, s.p)) {
				break
			}
			if round == mostRounds {
				return errors.New("the robust weights do not settle; try plain ones")
			}
			if round < moving { // held then, since scale and weights may chase each other
				f.Scale = madScale(s.residual, f.Free)
			}
			for k, r := range s.residual {
				s.robust[k] = 1
				if f.Scale > 0 {
					s.robust[k] = rule.weight(r / f.Scale)
				}
			}
		}
	}
	return nil
}

func near(a, b []float64) bool {
	for k := range a {
		if math.Abs(a[k]-b[k]) > settled*math.Abs(b[k]) {
			return false
		}
	}
	return true
}

// cost fills the residuals for parameters and returns their weighted sum of
// squares.
func (s *system) cost(p []float64, residual []float64) float64 {
	sum := 0.0
	for k, pt := range s.points {
		residual[k] = (pt.Y - s.m.Eval(p, pt.At)) / s.sigma[k]
		sum += s.robust[k] * residual[k] * residual[k]
	}
	return sum
}

// jacobian returns the derivatives of the fit over sigma; with robust set, each
// row times the root of its robust weight.
func (s *system) jacobian(robust bool) *mat.Dense {
	n, np := len(s.points), len(s.p)
	j := mat.NewDense(n, np, nil)
	row := make([]float64, np)
	for k, pt := range s.points {
		s.m.Grad(row, s.p, pt.At)
		w := 1 / s.sigma[k]
		if robust {
			w *= math.Sqrt(s.robust[k])
		}
		for c, g := range row {
			j.Set(k, c, g*w)
		}
	}
	return j
}

// marquardt minimises the cost from where p is.
func (s *system) marquardt() error {
	trial := make([]float64, len(s.points))
	cost := s.cost(s.p, s.residual)
	lambda := 1e-3
	if _, linear := s.m.(Polynomial); linear {
		lambda = 0 // one step is exact
	}
	for range 500 {
		j := s.jacobian(true)
		norms, err := columnNorms(j)
		if err != nil {
			return err
		}
		step, err := s.step(j, norms, lambda)
		if err != nil {
			return err
		}
		next := make([]float64, len(s.p))
		for c := range next {
			next[c] = s.p[c] + step[c]
		}
		nextCost := s.cost(next, trial)
		switch {
		case nextCost <= cost || lambda == 0:
			done := near(s.p, next) || lambda == 0
			s.p, cost, lambda = next, nextCost, lambda/10
			copy(s.residual, trial)
			if done {
				return nil
			}
		case near(s.p, next):
			return nil // the step is lost in rounding
		default:
			lambda = max(lambda*10, 1e-12)
		}
	}
	return errors.New("the fit does not settle in 500 steps")
}

func columnNorms(j *mat.Dense) ([]float64, error) {
	_, np := j.Dims()
	norms := make([]float64, np)
	for c := range norms {
		norms[c] = mat.Norm(j.ColView(c), 2)
		if !(norms[c] > 0) || math.IsInf(norms[c], 1) {
			return nil, fmt.Errorf("parameter %d has no effect at any point, or an infinite one", c+1)
		}
	}
	return norms, nil
}

// scaledColumns returns the matrix with each column divided by its norm.
func scaledColumns(j *mat.Dense, norms []float64) *mat.Dense {
	var out mat.Dense
	out.Apply(func(_, c int, x float64) float64 { return x / norms[c] }, j)
	return &out
}

// step solves the damped linear problem, its columns scaled to norm one.
func (s *system) step(j *mat.Dense, norms []float64, lambda float64) ([]float64, error) {
	n, np := j.Dims()
	a := mat.NewDense(n+np, np, nil)
	b := mat.NewVecDense(n+np, nil)
	a.Slice(0, n, 0, np).(*mat.Dense).Copy(scaledColumns(j, norms))
	for k := range n {
		b.SetVec(k, s.residual[k]*math.Sqrt(s.robust[k]))
	}
	for c := range np {
		a.Set(n+c, c, math.Sqrt(lambda))
	}
	var qr mat.QR
	qr.Factorize(a)
	var x mat.VecDense
	if err := qr.SolveVecTo(&x, false, b); err != nil {
		return nil, errUndetermined
	}
	out := make([]float64, np)
	for c := range out {
		out[c] = x.AtVec(c) / norms[c]
	}
	return out, nil
}

var errUndetermined = errors.New("the points do not determine all parameters; more different conditions are needed")

// covariance fills Cov, Scale and Basis. For robust weights it is Huber's
// asymptotic form with his correction for few points (Huber, Robust Statistics,
// 1981, 7.6, from memory):
//
//	K²·s²·[Σψ(r/s)²/(n-p)]/[mean ψ'(r/s)]²·(JᵀJ)⁻¹, K = 1 + p/n·var(ψ')/mean(ψ')²
func (s *system) covariance(f *Fit) {
	np := len(s.p)
	j := s.jacobian(false)
	norms, _ := columnNorms(j)
	factor := 1.0
	switch {
	case f.Free < leastFree && s.known:
		f.Basis = "the points' u, since fewer than three degrees of freedom are left"
		f.Scale = 1
		if chi := dot(s.residual, s.residual) / float64(max(f.Free, 1)); f.Free > 0 && chi > 1 {
			// The points stray farther than their u explains: the model misses
			// something, or a u is too small (the ratio of Birge, from memory).
			factor, f.Scale = chi, math.Sqrt(chi)
			f.Basis += ", enlarged to what they stray from the fit"
		}
	case f.Free <= 0:
		f.Basis = "nothing: no u, and no point left over"
		factor, f.Scale = math.NaN(), 1
	case f.Robust == Plain:
		factor = dot(s.residual, s.residual) / float64(f.Free)
		f.Scale = math.Sqrt(factor)
		f.Basis = "the scatter of the points about the fit"
	default:
		factor = f.Scale * f.Scale * huberFactor(s.residual, f.Scale, f.Robust, np, f.Free)
		f.Basis = "the scatter of the points about the fit, robust weights (" + string(f.Robust) + ")"
	}
	scaled := scaledColumns(j, norms)
	var normal, inverse mat.Dense
	normal.Mul(scaled.T(), scaled)
	if err := inverse.Inverse(&normal); err != nil {
		factor = math.NaN()
	}
	f.Cov = make([][]float64, np)
	for a := range np {
		f.Cov[a] = make([]float64, np)
		for b := range np {
			f.Cov[a][b] = factor * inverse.At(a, b) / norms[a] / norms[b]
		}
	}
}

func huberFactor(residual []float64, scale float64, rule Robust, np, free int) float64 {
	if scale == 0 {
		return 0
	}
	n := float64(len(residual))
	psi2, slope, slope2 := 0.0, 0.0, 0.0
	for _, r := range residual {
		x := r / scale
		psi := x * rule.weight(x)
		d := rule.slope(x)
		psi2, slope, slope2 = psi2+psi*psi, slope+d/n, slope2+d*d/n
	}
	k := 1 + float64(np)/n*(slope2-slope*slope)/(slope*slope)
	return k * k * psi2 / float64(free) / (slope * slope)
}

// Coverage returns by how many standard uncertainties a 95 % interval of the
// fit reaches to either side: Student's for its degrees of freedom, or 2 where
// u decides (GUM, JCGM 100:2008, G.3).
func (f *Fit) Coverage() float64 { return f.coverage }

func coverage(free int) float64 {
	if free < leastFree {
		return 2
	}
	return distuv.StudentsT{Mu: 0, Sigma: 1, Nu: float64(free)}.Quantile(0.975)
}

// U returns the standard uncertainty of parameter k from the fit alone.
func (f *Fit) U(k int) float64 { return math.Sqrt(f.Cov[k][k]) }

// ownRMS is what of the points' u is their own, relative to their values.
func (s *system) ownRMS() float64 {
	sum, n := 0.0, 0.0
	for k, p := range s.points {
		if p.Y != 0 && s.known {
			sum, n = sum+s.sigma[k]*s.sigma[k]/p.Y/p.Y, n+1
		}
	}
	return math.Sqrt(sum / max(n, 1))
}

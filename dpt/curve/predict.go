package curve

import "math"

// Estimate is a fitted value at a place.
type Estimate struct {
	Value    float64
	U        float64   // standard uncertainty: of the fit and of what all points share
	Expanded float64   // half width of the 95 % band
	Inside   bool      // the place lies within the data
	Shared   []float64 // the part of U that other places share: effects of one standard uncertainty of each input, signed
}

// Predict returns the value of the fit at a place. Whether the place lies
// within the data is told, not decided for the caller.
func (f *Fit) Predict(at At) Estimate {
	e := f.estimate(at)
	e.Inside = f.Inside(at)
	return e
}

// estimate is Predict without Inside, which takes most of its time.
func (f *Fit) estimate(at At) Estimate {
	grad := make([]float64, len(f.P))
	f.Model.Grad(grad, f.P, at)
	variance := 0.0
	for a, ga := range grad {
		for b, gb := range grad {
			variance += ga * gb * f.Cov[a][b]
		}
	}
	y := f.Model.Eval(f.P, at)
	effects := f.effects(y, grad)
	shared := math.Sqrt(dot(effects, effects))
	k := f.Coverage()
	return Estimate{
		Shared:   effects,
		Value:    y,
		U:        math.Sqrt(max(variance, 0) + shared*shared),
		Expanded: math.Sqrt(k*k*max(variance, 0) + 4*shared*shared),
	}
}

// slack is how far outside the hull of the points a place still counts as
// within the data, relative to the span of each variable: measured points miss
// the round values of a plan by about that much.
const slack = 0.03

// Inside tells whether a place lies in the convex hull of the fit's points over
// the variables of its model, or no farther outside than 3 % of their spans.
func (f *Fit) Inside(at At) bool {
	vars := f.Model.Uses()
	lo, span := make([]float64, len(vars)), make([]float64, len(vars))
	points := make([]Point, len(f.Points))
	for k, p := range f.Points {
		points[k] = p.Point
	}
	q := make([]float64, len(vars))
	for d, v := range vars {
		low, high := rangeOf(points, v)
		lo[d], span[d] = low, high-low
		if span[d] == 0 {
			span[d] = max(math.Abs(low), 1)
		}
		q[d] = (at.Get(v) - low) / span[d]
		if !(q[d] >= -slack && q[d] <= 1+slack) {
			return false
		}
	}
	hull := make([][]float64, len(points))
	for k, p := range points {
		hull[k] = make([]float64, len(vars))
		for d, v := range vars {
			hull[k][d] = (p.Get(v) - lo[d]) / span[d]
		}
	}
	return inHull(hull, q, slack)
}

// inHull tells whether q is within tol of the convex hull of the points, by the
// algorithm of Frank and Wolfe for the nearest point: each step goes towards
// the corner that lies farthest in the direction of q, and ends once q is near
// enough or a plane separates it by more than tol. A place that neither settles
// counts as outside.
func inHull(points [][]float64, q []float64, tol float64) bool {
	x := append([]float64{}, points[0]...)
	d := make([]float64, len(q))
	for range 2000 {
		size := 0.0
		for k := range q {
			d[k] = q[k] - x[k]
			size += d[k] * d[k]
		}
		size = math.Sqrt(size)
		if size <= tol {
			return true
		}
		best, reach := 0, math.Inf(-1)
		for k, p := range points {
			if r := dot(d, p); r > reach {
				best, reach = k, r
			}
		}
		if (dot(d, q)-reach)/size > tol {
			return false
		}
		length, along := 0.0, 0.0
		for k := range q {
			e := points[best][k] - x[k]
			length, along = length+e*e, along+e*d[k]
		}
		if length == 0 {
			return false
		}
		t := min(max(along/length, 0), 1)
		for k := range q {
			x[k] += t * (points[best][k] - x[k])
		}
	}
	return false
}

func dot(a, b []float64) float64 {
	sum := 0.0
	for k := range a {
		sum += a[k] * b[k]
	}
	return sum
}

// Moved is a point brought to a round condition with the shape of the fit.
type Moved struct {
	Point         // at the round condition
	From    Point // as measured
	Changed float64
}

// Move brings a point to another place: its value times the ratio of the fit
// there and here, its uncertainty with a part for the fit's of that change.
func (f *Fit) Move(p Point, to At) Moved {
	here, there := f.Model.Eval(f.P, p.At), f.Model.Eval(f.P, to)
	out := Moved{Point: p, From: p}
	out.At = to
	out.Y = p.Y * there / here
	out.Changed = out.Y - p.Y
	// How well the fit knows the change: both ends move together with its
	// parameters, so the gradient of the ratio's logarithm counts.
	g0, g1 := make([]float64, len(f.P)), make([]float64, len(f.P))
	f.Model.Grad(g0, f.P, p.At)
	f.Model.Grad(g1, f.P, to)
	variance := 0.0
	for a := range g0 {
		for b := range g0 {
			da, db := g1[a]/there-g0[a]/here, g1[b]/there-g0[b]/here
			variance += da * db * f.Cov[a][b]
		}
	}
	ratio := out.Y / p.Y
	out.U = math.Sqrt(p.U*p.U*ratio*ratio + out.Y*out.Y*max(variance, 0))
	return out
}

// HalfSineMean returns the mean of a + b·i + c·i² over one period of a current
// that is a half sine of that peak in one half and not switched in the other:
// a/2 + b·peak/π + c·peak²/4. Times the switching frequency it is the loss of a
// device in a phase leg at unity gain (common practice, no source).
func HalfSineMean(a, b, c, peak float64) float64 {
	return a/2 + b*peak/math.Pi + c*peak*peak/4
}

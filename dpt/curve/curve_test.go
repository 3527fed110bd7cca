package curve

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strconv"
	"strings"
	"testing"

	"slewbook/dpt/result"
)

// pairs reads "y x y x ..." as points over current, without uncertainty.
func pairs(t *testing.T, text string) []Point {
	t.Helper()
	var out []Point
	fields := strings.Fields(text)
	for k := 0; k+1 < len(fields); k += 2 {
		y, err := strconv.ParseFloat(fields[k], 64)
		if err != nil {
			t.Fatal(err)
		}
		x, err := strconv.ParseFloat(fields[k+1], 64)
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, Point{At: At{I: x, V: math.NaN(), Tj: math.NaN(), Rg: math.NaN()}, Y: y, U: math.NaN()})
	}
	return out
}

// invented is a loss surface of no real device.
var invented = Surface{Ref: At{I: 60, V: 600, Tj: 350, Rg: 5}, Over: Variables}

var inventedP = []float64{40e-6, 6e-6, 0.05e-6, 1.3, 1.5e-3, 0.06}

// campaign measures the surface at scattered voltages and currents, with the
// given relative spread and every faulty-th value 40 % too high.
func campaign(r *rand.Rand, m Model, p []float64, spread float64, faulty int) []Point {
	var out []Point
	for _, v := range []float64{400, 600, 800} {
		for _, i := range []float64{20, 40, 60, 80, 100} {
			for _, tj := range []float64{298.15, 398.15} {
				for _, rg := range []float64{2.5, 7.5} {
					at := At{I: i * (1 + 0.01*r.NormFloat64()), V: v * (1 + 0.003*r.NormFloat64()), Tj: tj, Rg: rg}
					y := m.Eval(p, at)
					u := spread * y
					y += u * r.NormFloat64()
					if faulty > 0 && len(out)%faulty == faulty-1 {
						y *= 1.4
					}
					out = append(out, Point{At: at, Name: fmt.Sprint(len(out)), Y: y, U: u})
				}
			}
		}
	}
	return out
}

// underOneGain puts points under a gain with a relative standard uncertainty u, whose
// error is drawn once for all of them; u = 0 leaves them and says that they share nothing.
func underOneGain(r *rand.Rand, points []Point, u float64) []Point {
	gain := 1 + u*r.NormFloat64()
	for k := range points {
		p := &points[k]
		p.Budget = []result.Contribution{{Source: "noise and bits", Effect: p.U, Scope: result.OfReading}, {Source: "gain of vds", Effect: u * p.Y, Scope: result.OfSetup}}
		p.Y *= gain
		p.U = math.Hypot(p.U, u*p.Y)
	}
	return points
}

// TestCoverage: the intervals hold the known coefficients 95 % of the time.
// Tolerance: 3 standard deviations of the binomial share.
func TestCoverage(t *testing.T) {
	const repeats = 250
	curve := Polynomial{Current, 2}
	few := func(r *rand.Rand, spread float64) []Point {
		var out []Point
		for _, i := range []float64{10, 20, 30, 40, 50, 60, 70, 80, 90, 100} {
			y := curve.Eval(inventedP, At{I: i})
			out = append(out, Point{At: At{I: i}, Y: y * (1 + spread*r.NormFloat64()), U: spread * y})
		}
		return underOneGain(r, out, 0)
	}
	for _, c := range []struct {
		name   string
		model  Model
		truth  []float64
		points func(*rand.Rand) []Point
		rule   Robust
	}{
		{"surface, plain", invented, inventedP, func(r *rand.Rand) []Point {
			return underOneGain(r, campaign(r, invented, inventedP, 0.02, 0), 0)
		}, Plain},
		{"surface, bisquare", invented, inventedP, func(r *rand.Rand) []Point {
			return underOneGain(r, campaign(r, invented, inventedP, 0.02, 0), 0)
		}, Bisquare},
		{"curve of ten points, plain", curve, inventedP[:3], func(r *rand.Rand) []Point { return few(r, 0.02) }, Plain},
		{"curve of ten points, huber", curve, inventedP[:3], func(r *rand.Rand) []Point { return few(r, 0.02) }, Huber},
		{"surface under one gain, huber", invented, inventedP, func(r *rand.Rand) []Point {
			return underOneGain(r, campaign(r, invented, inventedP, 0.002, 0), 0.02)
		}, Huber},
		{"three points under one gain", curve, inventedP[:3], func(r *rand.Rand) []Point {
			points := few(r, 1e-4)
			return underOneGain(r, []Point{points[0], points[4], points[9]}, 0.02)
		}, Huber},
	} {
		r := rand.New(rand.NewPCG(8, 5))
		within := make([]int, len(c.truth))
		for range repeats {
			f, _, err := solve(c.model, c.points(r), Options{Robust: c.rule, Common: math.NaN()})
			if err != nil {
				t.Fatal(err)
			}
			for k := range c.truth {
				if math.Abs(f.P[k]-c.truth[k]) <= f.Half(k) {
					within[k]++
				}
			}
		}
		room := 3 * math.Sqrt(0.95*0.05/repeats)
		for k, n := range within {
			share := float64(n) / repeats
			t.Logf("%s: %s in %.1f %%", c.name, c.model.Params()[k].Name, 100*share)
			if math.Abs(share-0.95) > room {
				t.Errorf("%s: the interval of %s holds the truth in %.1f %% of %d; expected 95 +- %.1f %%", c.name, c.model.Params()[k].Name, 100*share, repeats, 100*room)
			}
		}
	}
}

// TestOutliers: one value in ten is 40 % off, twenty times the spread. Robust
// fits stay within a tenth of that of the truth and flag them; least squares
// does not.
func TestOutliers(t *testing.T) {
	points := campaign(rand.New(rand.NewPCG(1, 2)), invented, inventedP, 0.02, 10)
	at := At{I: 60, V: 600, Tj: 350, Rg: 5}
	want := invented.Eval(inventedP, at)
	off := map[Robust]float64{}
	for _, rule := range []Robust{Plain, Huber, Bisquare} {
		f, _, err := solve(invented, points, Options{Robust: rule, Common: 0})
		if err != nil {
			t.Fatal(err)
		}
		off[rule] = math.Abs(f.Predict(at).Value/want - 1)
		t.Logf("%s: %.2f %% off", rule, 100*off[rule])
		for k, p := range f.Points {
			if bad := k%10 == 9; rule != Plain && p.Outlier != bad {
				t.Errorf("%s: point %d flagged %v, faulty %v", rule, k, p.Outlier, bad)
			}
		}
		if len(f.Points) != len(points) {
			t.Errorf("%s: %d points of %d left: none may be deleted", rule, len(f.Points), len(points))
		}
	}
	if off[Plain] < 0.02 || off[Huber] > 0.012 || off[Bisquare] > 0.01 {
		t.Errorf("off by %v", off)
	}
}

// TestGradients against differences, for every model.
func TestGradients(t *testing.T) {
	power := Surface{Power: true, Ref: invented.Ref, Over: Variables}
	apart := Surface{Apart: true, Ref: invented.Ref, Over: Variables}
	for _, c := range []struct {
		m Model
		p []float64
	}{{invented, inventedP}, {power, []float64{4e-4, 1.1, 1.3, 1.5e-3, 0.06}}, {apart, []float64{4e-5, 2e-6, 3e-8, 1.7, 0.6, 1.5e-3, 0.06}}, {Surface{Over: []Variable{Gate}, Ref: At{Rg: 5}}, []float64{4e-4, 0.06}}, {Polynomial{Bus, 2}, []float64{1, 2, 3}}} {
		at := At{I: 33, V: 512, Tj: 300, Rg: 3}
		grad := make([]float64, len(c.p))
		c.m.Grad(grad, c.p, at)
		for k := range c.p {
			h := 1e-6 * math.Abs(c.p[k])
			up, down := append([]float64{}, c.p...), append([]float64{}, c.p...)
			up[k] += h
			down[k] -= h
			want := (c.m.Eval(up, at) - c.m.Eval(down, at)) / (2 * h)
			if math.Abs(grad[k]-want) > 1e-4*math.Abs(want) {
				t.Errorf("%s: derivative to %s %g, by differences %g", c.m.Formula(), c.m.Params()[k].Name, grad[k], want)
			}
		}
	}
}

// TestLeftOut: for a straight line the foretold value is that of the fit less
// leverage: y - foretold = (y - fitted)/(1 - h) (Cook and Weisberg, from
// memory).
func TestLeftOut(t *testing.T) {
	// Beyond so many points leverage is used: the same as fitting again.
	r := rand.New(rand.NewPCG(7, 7))
	var many []Point
	for k := range mostRefits + 5 {
		many = append(many, Point{At: At{I: float64(k)}, Y: 3 + 2*float64(k) + r.NormFloat64(), U: 1})
	}
	whole, err := Least(Polynomial{Current, 1}, many, Options{Robust: Plain})
	if err != nil {
		t.Fatal(err)
	}
	again := whole.refit(Options{Robust: Plain})
	for k, p := range whole.Points {
		if want := again(k); math.Abs(p.LeftOut-want) > 1e-9 {
			t.Errorf("point %d: foretold %.12g by leverage, %.12g by fitting again", k, p.LeftOut, want)
		}
	}
	points := pairs(t, "1.1 1 1.9 2 3.2 3 3.8 4 5.1 5")
	f, err := Least(Polynomial{Current, 1}, points, Options{Robust: Plain})
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range f.Points {
		h := 1.0/5 + (p.I-3)*(p.I-3)/10
		want := p.Y - (p.Y-p.Fitted)/(1-h)
		if math.Abs(p.LeftOut-want) > 1e-12 {
			t.Errorf("at %g foretold %.15g, expected %.15g", p.I, p.LeftOut, want)
		}
	}
	if f.Left.N != 5 {
		t.Errorf("%d points left out in turn", f.Left.N)
	}
}

// TestCommon: what all points share does not average out.
func TestCommon(t *testing.T) {
	points := campaign(rand.New(rand.NewPCG(1, 2)), invented, inventedP, 0.02, 0)
	f, _, err := solve(invented, points, Defaults())
	if err != nil {
		t.Fatal(err)
	}
	e := f.Predict(invented.Ref)
	if e.U < 0.018*e.Value || e.U > 0.022*e.Value {
		t.Errorf("u = %.3g of the value; expected the common 2 %% and little more", e.U/e.Value)
	}
	f, _, _ = solve(invented, points, Options{Robust: Huber, Common: 0})
	if e = f.Predict(invented.Ref); e.U > 0.006*e.Value {
		t.Errorf("u = %.3g of the value without a common part; expected it to average out", e.U/e.Value)
	}
}

func TestInside(t *testing.T) {
	var points []Point
	for _, p := range [][2]float64{{10, 400}, {50, 400}, {100, 400}, {10, 800}, {50, 800}, {55, 600}} { // no shot at 100 A, 800 V
		points = append(points, Point{At: At{I: p[0], V: p[1]}, Y: p[0] * p[1], U: 1})
	}
	f, _, err := solve(Surface{Ref: At{I: 50, V: 600}, Over: []Variable{Current, Bus}}, points, Defaults())
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		i, v float64
		want bool
	}{{50, 600, true}, {75, 590, true}, {100, 800, false}, {85, 800, false}, {101, 400, true}, {105, 400, false}, {10, 380, false}, {10, 795, true}, {math.NaN(), 600, false}} {
		if got := f.Predict(At{I: c.i, V: c.v}).Inside; got != c.want {
			t.Errorf("%g A, %g V: inside %v, expected %v", c.i, c.v, got, c.want)
		}
	}
}

// TestMove: a point is brought to round conditions along the shape of the fit.
func TestMove(t *testing.T) {
	points := campaign(rand.New(rand.NewPCG(3, 2)), invented, inventedP, 1e-9, 0)
	f, _, err := solve(invented, points, Options{Robust: Plain})
	if err != nil {
		t.Fatal(err)
	}
	p := points[17]
	to := At{I: 80, V: 600, Tj: p.Tj, Rg: p.Rg}
	m := f.Move(p, to)
	if want := invented.Eval(inventedP, to); math.Abs(m.Y/want-1) > 1e-6 || m.From.I == m.I {
		t.Errorf("moved to %g, expected %g", m.Y, want)
	}
	if math.Abs(m.Changed-(m.Y-p.Y)) > 0 || m.U < p.U*m.Y/p.Y {
		t.Errorf("changed by %g, u %g", m.Changed, m.U)
	}
}

// TestHalfSineMean by quadrature: midpoints over the half period of the sine,
// nothing over the other.
func TestHalfSineMean(t *testing.T) {
	a, b, c, peak := 40e-6, 6e-6, 0.05e-6, 70.0
	const n = 20000
	mean := 0.0
	for k := range n {
		i := peak * math.Sin(math.Pi*(float64(k)+0.5)/n)
		mean += (a + b*i + c*i*i) / (2 * n)
	}
	if got := HalfSineMean(a, b, c, peak); math.Abs(got/mean-1) > 1e-8 {
		t.Errorf("%.12g, by quadrature %.12g", got, mean)
	}
}

func TestUndetermined(t *testing.T) {
	same := []Point{{At: At{I: 10}, Y: 1, U: .1}, {At: At{I: 10}, Y: 1.1, U: .1}, {At: At{I: 10}, Y: .9, U: .1}}
	_, err := Least(Polynomial{Current, 2}, same, Defaults())
	if err == nil || !strings.Contains(err.Error(), "do not determine") {
		t.Errorf("three points at one current: %v", err)
	}
	_, err = Least(Polynomial{Current, 2}, same[:2], Defaults())
	if err == nil || !strings.Contains(err.Error(), "2 points") {
		t.Errorf("two points: %v", err)
	}
}

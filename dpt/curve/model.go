package curve

import (
	"fmt"
	"math"
	"strings"
)

// Param names a parameter of a model and its unit relative to the quantity's:
// "/A2" is that of c in a + bI + cI^2.
type Param struct {
	Name string
	Unit string
}

// Model is a function of the conditions with parameters to be fitted.
type Model interface {
	Formula() string
	Params() []Param
	Uses() []Variable
	// Eval returns the value at a place.
	Eval(p []float64, at At) float64
	// Grad writes the derivatives with respect to the parameters.
	Grad(dst, p []float64, at At)
	// Start returns parameters to begin with.
	Start(points []Point) []float64
}

// Polynomial is a + b·x + c·x², or less of it, in one variable: the usual form
// of a loss curve over current.
type Polynomial struct {
	Over   Variable
	Degree int // 0 to 2
}

// Formula implements Model.
func (m Polynomial) Formula() string {
	x := symbols[m.Over]
	return strings.Join([]string{"a", "b " + x, "c " + x + "²"}[:m.Degree+1], " + ")
}

var symbols = map[Variable]string{Current: "I", Bus: "V", Temperature: "T_j", Gate: "R_G"}

// Params implements Model.
func (m Polynomial) Params() []Param {
	unit := "/" + m.Over.Unit()
	return []Param{{"a", ""}, {"b", unit}, {"c", unit + "2"}}[:m.Degree+1]
}

// Uses implements Model.
func (m Polynomial) Uses() []Variable { return []Variable{m.Over} }

// Eval implements Model.
func (m Polynomial) Eval(p []float64, at At) float64 {
	x, y := at.Get(m.Over), 0.0
	for k := m.Degree; k >= 0; k-- {
		y = y*x + p[k]
	}
	return y
}

// Grad implements Model.
func (m Polynomial) Grad(dst, _ []float64, at At) {
	x, power := at.Get(m.Over), 1.0
	for k := range dst {
		dst[k] = power
		power *= x
	}
}

// Start implements Model. The model is linear, so any start does.
func (m Polynomial) Start([]Point) []float64 { return make([]float64, m.Degree+1) }

// Surface is a product over the conditions that vary,
//
//	g(I)·(V/V_ref)^kv·(1 + kt·(T_j - T_ref))·(1 + kr·(R_G - R_ref))
//
// where g(I) is a + bI + cI², or E_ref·(I/I_ref)^ki with Power set: the forms
// in which handbooks of power modules scale a data sheet's energies (common
// practice, no source). With Apart set what is there without current, mostly charge of
// capacitances, follows the voltage by an exponent of its own:
//
//	(a·(V/V_ref)^ka + (bI + cI²)·(V/V_ref)^kv)·…
type Surface struct {
	Power bool
	Apart bool // without Power, and over current and bus only
	Ref   At   // reference of the factors; no uncertainty
	Over  []Variable
}

// NewSurface returns the surface over the conditions that take at least two
// values among the points, its reference at their middle.
func NewSurface(points []Point, power bool) Surface {
	m := Surface{Power: power}
	for _, v := range Variables {
		lo, hi := rangeOf(points, v)
		m.Ref = m.Ref.With(v, math.NaN())
		if lo <= hi {
			m.Ref = m.Ref.With(v, (lo+hi)/2)
		}
		if hi-lo > 0.01*math.Abs(hi) { // less is scatter of the bench, not a condition
			m.Over = append(m.Over, v)
		}
	}
	return m
}

// LeastSurface fits the surface over the conditions that vary: of the forms, of which that
// with Apart needs three more points than parameters, the one by which points foretell
// those that are left out best.
func LeastSurface(points []Point, power bool, opt Options) (*Fit, error) {
	m := NewSurface(points, power)
	f, err := Least(m, points, opt)
	if err != nil || power || !m.over(Current) || !m.over(Bus) || f.Free < leastFree+1 {
		return f, err
	}
	m.Apart = true
	if apart, err := Least(m, points, opt); err == nil && apart.Left.N >= f.Left.N && apart.Left.RMS < f.Left.RMS {
		return apart, nil
	}
	return f, nil
}

func rangeOf(points []Point, v Variable) (lo, hi float64) {
	lo, hi = math.Inf(1), math.Inf(-1)
	for _, p := range points {
		if x := p.Get(v); !math.IsNaN(x) {
			lo, hi = min(lo, x), max(hi, x)
		}
	}
	return lo, hi
}

func (m Surface) over(v Variable) bool {
	for _, o := range m.Over {
		if o == v {
			return true
		}
	}
	return false
}

// Formula implements Model.
func (m Surface) Formula() string {
	parts := []string{"E_ref"}
	switch {
	case m.over(Current) && m.Power:
		parts = []string{fmt.Sprintf("E_ref (I/%.4g A)^ki", m.Ref.I)}
	case m.Apart:
		x := fmt.Sprintf("(V/%.4g V)", m.Ref.V)
		parts = []string{"(a " + x + "^ka + (b I + c I²) " + x + "^kv)"}
	case m.over(Current):
		parts = []string{"(a + b I + c I²)"}
	}
	if m.over(Bus) && !m.Apart {
		parts = append(parts, fmt.Sprintf("(V/%.4g V)^kv", m.Ref.V))
	}
	if m.over(Temperature) {
		parts = append(parts, fmt.Sprintf("(1 + kt (T_j - %.4g K))", m.Ref.Tj))
	}
	if m.over(Gate) {
		parts = append(parts, fmt.Sprintf("(1 + kr (R_G - %.4g ohm))", m.Ref.Rg))
	}
	return strings.Join(parts, " ")
}

// Params implements Model.
func (m Surface) Params() []Param {
	out := []Param{{"E_ref", ""}}
	switch {
	case m.over(Current) && m.Power:
		out = append(out, Param{"ki", "1"})
	case m.over(Current):
		out = []Param{{"a", ""}, {"b", "/A"}, {"c", "/A2"}}
	}
	if m.Apart {
		out = append(out, Param{"ka", "1"})
	}
	for _, f := range []struct {
		v Variable
		p Param
	}{{Bus, Param{"kv", "1"}}, {Temperature, Param{"kt", "1/K"}}, {Gate, Param{"kr", "1/ohm"}}} {
		if m.over(f.v) {
			out = append(out, f.p)
		}
	}
	return out
}

// Uses implements Model.
func (m Surface) Uses() []Variable { return m.Over }

// current returns g(I), with Apart over the voltage too, its derivatives and how many
// parameters it has.
func (m Surface) current(p []float64, at At) (g float64, d [5]float64, n int) {
	i := at.I
	switch {
	case !m.over(Current):
		return p[0], [5]float64{1}, 1
	case m.Power:
		x := math.Abs(i / m.Ref.I)
		pow := math.Pow(x, p[1])
		return p[0] * pow, [5]float64{pow, p[0] * pow * math.Log(max(x, 1e-300))}, 2
	case m.Apart:
		x := at.V / m.Ref.V
		still, load := math.Pow(x, p[3]), math.Pow(x, p[4])
		a, bc := p[0]*still, i*(p[1]+i*p[2])*load
		return a + bc, [5]float64{still, i * load, i * i * load, a * math.Log(x), bc * math.Log(x)}, 5
	}
	return p[0] + i*(p[1]+i*p[2]), [5]float64{1, i, i * i}, 3
}

// factors returns the other factors and the derivative of each with respect to
// its own parameter.
func (m Surface) factors(p []float64, at At) (f, d []float64) {
	for _, v := range m.Over {
		if v == Current || v == Bus && m.Apart {
			continue
		}
		k := p[len(f)]
		if v == Bus {
			x := at.V / m.Ref.V
			pow := math.Pow(x, k)
			f, d = append(f, pow), append(d, pow*math.Log(x))
			continue
		}
		step := at.Get(v) - m.Ref.Get(v)
		f, d = append(f, 1+k*step), append(d, step)
	}
	return f, d
}

// Eval implements Model.
func (m Surface) Eval(p []float64, at At) float64 {
	y, _, n := m.current(p, at)
	f, _ := m.factors(p[n:], at)
	for _, x := range f {
		y *= x
	}
	return y
}

// Grad implements Model.
func (m Surface) Grad(dst, p []float64, at At) {
	g, dg, n := m.current(p, at)
	f, df := m.factors(p[n:], at)
	product := 1.0
	for _, x := range f {
		product *= x
	}
	for k := range n {
		dst[k] = dg[k] * product
	}
	for k := range f {
		others := g
		for j := range f {
			if j != k {
				others *= f[j]
			}
		}
		dst[n+k] = others * df[k]
	}
}

// Start implements Model: proportional to voltage and current, the same at
// every temperature and gate resistor.
func (m Surface) Start(points []Point) []float64 {
	p := make([]float64, len(m.Params()))
	mean := 0.0
	for _, pt := range points {
		y := pt.Y
		if m.over(Bus) {
			y *= m.Ref.V / pt.V
		}
		mean += y / float64(len(points))
	}
	p[0] = mean
	n := 1
	switch {
	case m.over(Current) && m.Power:
		p[1], n = 1, 2
	case m.Apart:
		p[0], p[1], p[3], n = mean/10, mean/m.Ref.I, 1, 4
	case m.over(Current):
		p[0], p[1], n = 0, mean/m.Ref.I, 3
	}
	if m.over(Bus) {
		p[n] = 1
	}
	return p
}

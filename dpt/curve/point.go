// Package curve fits switching quantities over current, bus voltage, junction
// temperature and gate resistor, states how sure each fitted value is and where
// the data end, and hands the result over as a grid.
//
// Points stand at the voltage and current that were measured, not at the
// planned ones. Nothing past the data is given without being asked for, and
// then it is marked.
package curve

import (
	"cmp"
	"fmt"
	"math"

	"slewbook/dpt/result"
	"slewbook/dpt/uncertainty"
)

// Variable is one of the conditions that a quantity is fitted over.
type Variable string

// The variables. Each has the SI base unit that Unit tells.
const (
	Current     Variable = "i"  // load current at the edge [A]
	Bus         Variable = "v"  // bus voltage at the edge [V]
	Temperature Variable = "tj" // junction temperature [K]
	Gate        Variable = "rg" // external gate resistor of the edge [ohm]
)

// Variables lists them in the order of a grid's axes.
var Variables = []Variable{Current, Bus, Temperature, Gate}

// Unit returns the SI base unit of the variable.
func (v Variable) Unit() string {
	switch v {
	case Current:
		return "A"
	case Bus:
		return "V"
	case Temperature:
		return "K"
	case Gate:
		return "ohm"
	}
	panic("curve: no variable " + string(v))
}

// At is a place in the space of conditions, in SI base units. NaN is a
// condition that is not known; a model that does not use it does not mind.
type At struct{ I, V, Tj, Rg float64 }

// Get returns one of the four.
func (a At) Get(v Variable) float64 {
	switch v {
	case Current:
		return a.I
	case Bus:
		return a.V
	case Temperature:
		return a.Tj
	case Gate:
		return a.Rg
	}
	panic("curve: no variable " + string(v))
}

// With returns the place with one of the four changed.
func (a At) With(v Variable, x float64) At {
	switch v {
	case Current:
		a.I = x
	case Bus:
		a.V = x
	case Temperature:
		a.Tj = x
	case Gate:
		a.Rg = x
	default:
		panic("curve: no variable " + string(v))
	}
	return a
}

// Point is one measured value of a quantity.
type Point struct {
	At
	Name string  // of the capture
	Part string  // value of the condition by which a series is split, "" where it is not
	Y    float64 // value, in SI base units
	U    float64 // its standard uncertainty, NaN if it is not known

	PlanI, PlanV float64 // what was planned [A], [V]; 0 where nothing tells

	Bench  string                // of the shot: what names what it shares with others, "" if nothing does
	Budget []result.Contribution // what U is made of, nil if that is not known
}

// result returns the point as one result of a quantity. campaign names the bench
// where the shot does not: shots of one campaign share it, those of two campaigns
// are not taken to. A U without a budget counts as a whole, and as shared within
// the campaign.
func (p Point) result(campaign string) uncertainty.Result {
	r := uncertainty.Result{Value: p.Y, Run: campaign, Setup: cmp.Or(p.Bench, campaign), Shot: campaign + "/" + p.Name, Budget: p.Budget}
	if r.Budget == nil {
		r.Budget = []result.Contribution{{Source: "u of " + campaign, U: p.U, Effect: p.U, Scope: result.OfSetup}}
	}
	return r
}

// plan returns the planned value of a variable where there is one and the shot
// was taken near it.
func (p Point) plan(v Variable) (float64, bool) {
	x := map[Variable]float64{Current: p.PlanI, Bus: p.PlanV}[v]
	return x, x > 0 && math.Abs(p.Get(v)-x) <= nearPlan*x
}

// usable returns the points that have a value and every variable of the model.
func usable(points []Point, m Model) ([]Point, error) {
	var out []Point
	for _, p := range points {
		ok := !math.IsNaN(p.Y) && !math.IsInf(p.Y, 0)
		for _, v := range m.Uses() {
			ok = ok && !math.IsNaN(p.Get(v)) && !math.IsInf(p.Get(v), 0)
		}
		if ok {
			out = append(out, p)
		}
	}
	if need := len(m.Params()); len(out) < need {
		return nil, fmt.Errorf("%s: %d points with all conditions; expected at least %d, one for each parameter", m.Formula(), len(out), need)
	}
	return out, nil
}

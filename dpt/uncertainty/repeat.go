package uncertainty

import (
	"math"

	"slewbook/dpt/result"
)

// Result is one value of a quantity with its budget.
type Result struct {
	Value  float64
	Run    string // as in Term
	Setup  string
	Shot   string
	Edge   string
	Budget []result.Contribution
}

// Repeated is what several shots under the same conditions say of a quantity.
// What averaging reduces stands apart from what it does not.
type Repeated struct {
	N      int
	Setup  string // that all share, as in Term; "" where they do not
	Mean   float64
	S      float64 // experimental standard deviation of one shot, NaN for fewer than two
	TypeA  float64 // S/√N: of the mean, from the scatter (JCGM 100, 4.2.3)
	Within float64 // of the mean, from those inputs of the budgets that differ from shot to shot
	Common float64 // from the inputs that all shots share: averaging leaves it
	U      float64 // of the mean: the larger of TypeA and Within, with Common
	Budget []result.Contribution
}

// Repeat averages the results. The scatter of the shots and those inputs of the
// budget that change from shot to shot are two accounts of the same thing, so the
// larger one counts and not their sum; of two or three shots the scatter alone
// would say little. There must be a result.
func Repeat(rs []Result) Repeated {
	r := Repeated{N: len(rs), Setup: rs[0].Setup, S: math.NaN(), TypeA: math.NaN()}
	terms := make([]Term, len(rs))
	for k, x := range rs {
		r.Mean += x.Value / float64(len(rs))
		terms[k] = x.term(1 / float64(len(rs)))
		if x.Setup != r.Setup {
			r.Setup = ""
		}
	}
	var within, common []result.Contribution
	for _, c := range Sum(terms...) {
		if c.Scope.Shared() {
			common = append(common, c)
		} else {
			within = append(within, c)
		}
	}
	if r.Setup == "" { // set-ups apart: nothing else can share this mixture of them
		for k := range common {
			if common[k].Scope == result.OfSetup {
				common[k].Scope = result.OfReading
			}
		}
	}
	r.Within, r.Common = Total(within), Total(common)
	scatter := r.Within
	if len(rs) > 1 {
		sum := 0.0
		for _, x := range rs {
			sum += (x.Value - r.Mean) * (x.Value - r.Mean)
		}
		r.S = math.Sqrt(sum / float64(len(rs)-1))
		r.TypeA = r.S / math.Sqrt(float64(len(rs)))
		scatter = max(r.TypeA, r.Within)
	}
	r.U = math.Hypot(scatter, r.Common)
	r.Budget = append(common, result.Contribution{Source: "repeatability", U: scatter, Effect: scatter, Scope: result.OfReading, Basis: "capture"})
	if scatter == 0 {
		r.Budget = common
	}
	return r
}

func (x Result) term(factor float64) Term {
	return Term{Factor: factor, Run: x.Run, Setup: x.Setup, Shot: x.Shot, Edge: x.Edge, Budget: x.Budget}
}

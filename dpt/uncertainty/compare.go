package uncertainty

import (
	"math"

	"slewbook/dpt/result"
)

// Verdict says what a difference of two results is.
type Verdict string

// Verdicts.
const (
	Larger     Verdict = "larger"
	Smaller    Verdict = "smaller"
	CannotTell Verdict = "cannot tell"
)

// Difference is the comparison of two results of a quantity.
type Difference struct {
	Value   float64 // a - b
	U       float64 // standard uncertainty of that, shared parts removed
	Shared  float64 // root of what of the two variances the difference does not have, because both share it
	Verdict Verdict // of a against b
	Budget  []result.Contribution
}

// Compare compares result a with b. Errors of inputs that both share (one set-up,
// one shot) move both alike and drop out of the difference as far as their
// effects are equal. One is called larger only where the difference is more than
// its expanded uncertainty (k = 2).
func Compare(a, b Result) Difference {
	d := Difference{Value: a.Value - b.Value, Verdict: CannotTell}
	d.Budget = Sum(a.term(1), b.term(-1))
	d.U = Total(d.Budget)
	apart := math.Hypot(Total(a.Budget), Total(b.Budget))
	d.Shared = math.Sqrt(max(apart*apart-d.U*d.U, 0))
	switch {
	case d.Value > 2*d.U:
		d.Verdict = Larger
	case d.Value < -2*d.U:
		d.Verdict = Smaller
	}
	return d
}

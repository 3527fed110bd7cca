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

// VerdictOf tells what a difference with a standard uncertainty is: larger or
// smaller only where it is more than its expanded uncertainty (k = 2).
func VerdictOf(difference, u float64) Verdict {
	switch {
	case difference > 2*u:
		return Larger
	case difference < -2*u:
		return Smaller
	}
	return CannotTell
}

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
// effects are equal.
func Compare(a, b Result) Difference {
	d := Difference{Value: a.Value - b.Value}
	d.Budget = Sum(a.term(1), b.term(-1))
	d.U = Total(d.Budget)
	apart := math.Hypot(Total(a.Budget), Total(b.Budget))
	d.Shared = math.Sqrt(max(apart*apart-d.U*d.U, 0))
	d.Verdict = VerdictOf(d.Value, d.U)
	return d
}

// EdgesApart tells whether a quantity of the turn-off and that of the turn-on differ by
// more than far, relative to the larger one, and twice the uncertainty of the difference.
func EdgesApart(off, on Result, far float64) bool {
	d := Compare(off, on)
	return math.Abs(d.Value) > far*max(math.Abs(off.Value), math.Abs(on.Value))+2*d.U
}

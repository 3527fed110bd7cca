package curve

import (
	"fmt"
	"math"
	"slices"
)

// Robust says how much a point far from the fit counts.
type Robust string

// Weights of a residual r in units of the robust scale. Tuning constants give
// 95 % efficiency for normal errors (Huber 1964; Beaton and Tukey 1974, from
// memory).
const (
	Huber    Robust = "huber"    // 1 to 1.345, then 1.345/|r|
	Bisquare Robust = "bisquare" // (1 - (r/4.685)²)², 0 beyond
	Plain    Robust = "plain"    // 1: least squares
)

const (
	huberK    = 1.345
	bisquareC = 4.685
	// outlierAt is where a point is flagged, in robust scales (common practice,
	// no source).
	outlierAt = 3
	// leastFree is how many degrees of freedom a fit needs before its own
	// residuals say how far points scatter.
	leastFree = 3
)

// Validate tells whether there is such a rule.
func (r Robust) Validate() error {
	switch r {
	case Huber, Bisquare, Plain:
		return nil
	}
	return fmt.Errorf("robust weights %q: expected huber, bisquare or plain", string(r))
}

// weight returns psi(r)/r.
func (r Robust) weight(x float64) float64 {
	x = math.Abs(x)
	switch {
	case r == Huber && x > huberK:
		return huberK / x
	case r == Bisquare && x >= bisquareC:
		return 0
	case r == Bisquare:
		q := 1 - (x/bisquareC)*(x/bisquareC)
		return q * q
	}
	return 1
}

// slope returns the derivative of psi.
func (r Robust) slope(x float64) float64 {
	x = math.Abs(x)
	switch {
	case r == Huber && x > huberK, r == Bisquare && x >= bisquareC:
		return 0
	case r == Bisquare:
		q := (x / bisquareC) * (x / bisquareC)
		return (1 - q) * (1 - 5*q)
	}
	return 1
}

// madScale is the median of |r| over 0.6745, which is the standard deviation of
// normal residuals; free of n are the degrees of freedom.
func madScale(r []float64, free int) float64 {
	abs := make([]float64, len(r))
	for k, x := range r {
		abs[k] = math.Abs(x)
	}
	slices.Sort(abs)
	n := len(abs)
	// The fit has drawn as many residuals towards zero as it has parameters:
	// the median is that of the largest free + 1 of them.
	low := max(0, n-free-1)
	rest := abs[low:]
	m := len(rest)
	return (rest[(m-1)/2] + rest[m/2]) / 2 / 0.6745
}

package uncertainty_test

import (
	"math"
	"testing"

	"slewbook/dpt/result"
	"slewbook/dpt/uncertainty"
)

func line(source string, effect float64, s result.Scope) result.Contribution {
	return result.Contribution{Source: source, U: math.Abs(effect), Effect: effect, Scope: s}
}

func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s: %g, expected %g", what, got, want)
	}
}

// 2 % and 3 % make 3.61 % if independent and 5.00 % if both come from one
// reference (JCGM 100, 5.1.2 and 5.2.2; the numbers: derived).
func TestTwoGains(t *testing.T) {
	v, i := line("gain of vds", 0.02, result.OfSetup), line("gain of id", 0.03, result.OfSetup)
	near(t, "independent", uncertainty.Total([]result.Contribution{v, i}), 0.036056, 1e-6)
	v.Source, i.Source = "reference", "reference"
	one := func(c result.Contribution) uncertainty.Term {
		return uncertainty.Term{Factor: 1, Budget: []result.Contribution{c}}
	}
	near(t, "correlated", uncertainty.Total(uncertainty.Sum(one(v), one(i))), 0.05, 1e-12)
}

// Ten resistors of 1 kΩ ± 0.1 Ω in series, all calibrated against one standard
// whose error is theirs, make 10 kΩ ± 1 Ω; independent they make ± 0.32 Ω
// (JCGM 100, 5.2.2, example, from memory).
func TestTenResistors(t *testing.T) {
	for scope, want := range map[result.Scope]float64{result.OfSetup: 1, result.OfReading: 0.316228} {
		terms := make([]uncertainty.Term, 10)
		for k := range terms {
			terms[k] = uncertainty.Term{Factor: 1, Budget: []result.Contribution{line("standard", 0.1, scope)}}
		}
		near(t, string(scope), uncertainty.Total(uncertainty.Sum(terms...)), want, 1e-6)
	}
}

// A delay moves the two energies of a shot against each other by the same amount
// (derived: 304 and 336 µJ, sum 640 µJ): the sum does not feel
// it, the difference feels it twice.
func TestDelayInASum(t *testing.T) {
	on := uncertainty.Term{Factor: 1, Edge: "on", Budget: []result.Contribution{line("delay of id", -16e-6, result.OfSetup), line("noise", 1e-6, result.OfReading)}}
	off := uncertainty.Term{Factor: 1, Edge: "off", Budget: []result.Contribution{line("delay of id", 16e-6, result.OfSetup), line("noise", 1e-6, result.OfReading)}}
	near(t, "sum", uncertainty.Total(uncertainty.Sum(on, off)), math.Sqrt2*1e-6, 1e-12)
	off.Factor = -1
	near(t, "difference", uncertainty.Total(uncertainty.Sum(on, off)), math.Hypot(32e-6, math.Sqrt2*1e-6), 1e-12)
}

// Mean 3 of 1..5 has s = √2.5 and s/√5 = 0.7071 (arithmetic). A gain common to all
// stays as it is; noise of one shot falls with √N.
func TestRepeat(t *testing.T) {
	var rs []uncertainty.Result
	for k := 1; k <= 5; k++ {
		rs = append(rs, uncertainty.Result{Value: float64(k), Shot: string(rune('a' + k)), Budget: []result.Contribution{line("gain of vds", 0.3, result.OfSetup), line("noise", 0.5, result.OfReading)}})
	}
	r := uncertainty.Repeat(rs)
	near(t, "mean", r.Mean, 3, 1e-12)
	near(t, "s", r.S, math.Sqrt(2.5), 1e-12)
	near(t, "type A", r.TypeA, math.Sqrt(0.5), 1e-12)
	near(t, "common", r.Common, 0.3, 1e-12)
	near(t, "within", r.Within, 0.5/math.Sqrt(5), 1e-12)
	near(t, "u", r.U, math.Hypot(math.Sqrt(0.5), 0.3), 1e-12)
	near(t, "u of the budget", uncertainty.Total(r.Budget), r.U, 1e-12)
	one := uncertainty.Repeat(rs[:1])
	if !math.IsNaN(one.S) || !math.IsNaN(one.TypeA) {
		t.Errorf("one shot has a scatter: %g, %g", one.S, one.TypeA)
	}
	near(t, "u of one", one.U, math.Hypot(0.5, 0.3), 1e-12)
}

// Two devices in one set-up: the gain drops out of their difference, so that a
// difference of 2 % is seen through a gain known to 5 %; in two set-ups it is not.
func TestCompare(t *testing.T) {
	of := func(value float64, setup, shot string) uncertainty.Result {
		return uncertainty.Result{Value: value, Setup: setup, Shot: shot, Budget: []result.Contribution{line("gain of vds", 0.05*value, result.OfSetup), line("noise", 0.2, result.OfReading)}}
	}
	same := uncertainty.Compare(of(102, "bench", "a"), of(100, "bench", "b"))
	near(t, "u in one set-up", same.U, math.Sqrt(0.1*0.1+2*0.2*0.2), 1e-12)
	near(t, "shared and apart make the whole", math.Hypot(same.Shared, same.U), math.Sqrt(5.1*5.1+5*5+0.08), 1e-9)
	if same.Verdict != uncertainty.Larger {
		t.Errorf("one set-up: %s", same.Verdict)
	}
	if d := uncertainty.Compare(of(102, "bench", "a"), of(100, "other bench", "b")); d.Verdict != uncertainty.CannotTell {
		t.Errorf("two set-ups: %s, U %g", d.Verdict, 2*d.U)
	}
	if d := uncertainty.Compare(of(95, "bench", "a"), of(100, "bench", "b")); d.Verdict != uncertainty.Smaller {
		t.Errorf("one set-up, 95 and 100: %s", d.Verdict)
	}
}

// What is left of an estimated delay does not average over the shots of a run, and
// does not drop out between two runs with one set-up.
func TestRun(t *testing.T) {
	of := func(run, shot string) uncertainty.Result {
		return uncertainty.Result{Value: 100, Run: run, Setup: "bench", Shot: shot, Budget: []result.Contribution{line("delay of id", 3, result.OfRun), line("gain of vds", 4, result.OfSetup)}}
	}
	near(t, "mean of one run", uncertainty.Repeat([]uncertainty.Result{of("A", "1"), of("A", "2")}).U, 5, 1e-12)
	near(t, "difference of two runs", uncertainty.Compare(of("A", "1"), of("B", "1")).U, 3*math.Sqrt2, 1e-12)
	near(t, "difference in one run", uncertainty.Compare(of("A", "1"), of("A", "2")).U, 0, 1e-12)
}

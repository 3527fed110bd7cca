// Package uncertainty computes with uncertainty budgets: the law of propagation
// (JCGM 100:2008, 5.1 and 5.2, from memory), sums of quantities whose errors
// have inputs in common, repeated results, and the comparison of two results.
package uncertainty

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"slewbook/dpt/result"
)

// Total returns the combined standard uncertainty of a budget whose inputs are
// independent: the root of the sum of the squared effects.
func Total(budget []result.Contribution) float64 {
	sum := 0.0
	for _, c := range budget {
		sum += c.Effect * c.Effect
	}
	return math.Sqrt(sum)
}

// Sorted returns the budget with the largest effect first; those that are equal but
// for rounding keep the order of their names.
func Sorted(budget []result.Contribution) []result.Contribution {
	out := slices.Clone(budget)
	slices.SortFunc(out, func(a, b result.Contribution) int {
		return cmp.Or(cmp.Compare(float32(math.Abs(b.Effect)), float32(math.Abs(a.Effect))), cmp.Compare(a.Source, b.Source))
	})
	return out
}

// Share returns which part of the variance of the budget the line is, 0 to 1.
func Share(c result.Contribution, budget []result.Contribution) float64 {
	u := Total(budget)
	return c.Effect * c.Effect / (u * u)
}

// Dominant names the largest contribution with its share: "delay of id, 93 %".
// It is "" for a budget without one.
func Dominant(budget []result.Contribution) string {
	if !(Total(budget) > 0) {
		return ""
	}
	c := Sorted(budget)[0]
	return fmt.Sprintf("%s, %.0f %%", c.Source, 100*Share(c, budget))
}

// Term is a quantity in a weighted sum.
type Term struct {
	Factor float64
	Run    string // names the campaign
	Setup  string // names what its set-up shares; terms of one Setup share gains and delay
	Shot   string // names the shot within the set-up
	Edge   string // names the edge within the shot
	Budget []result.Contribution
}

// SumOfEdges returns the budget of the sum of a quantity at the turn-on and at the
// turn-off of one shot.
func SumOfEdges(on, off []result.Contribution) []result.Contribution {
	return Sum(Term{Factor: 1, Edge: "on", Budget: on}, Term{Factor: 1, Edge: "off", Budget: off})
}

// Sum returns the budget of Σ Factor·quantity. Effects of one input that several
// terms have in common are added with their signs before they are squared
// (JCGM 100, 5.2.2 with r = ±1), so that a delay, which moves the energies of the
// two edges against each other, drops out of their sum. Inputs of one name that
// the terms do not have in common, such as the noise of each, are independent:
// their effects are added as squares, in one line.
func Sum(terms ...Term) []result.Contribution {
	type input struct{ source, owner string }
	at := map[input]int{}
	var apart []result.Contribution
	for k, t := range terms {
		for _, c := range t.Budget {
			in := input{c.Source, t.owner(c.Scope, k)}
			c.Effect *= t.Factor
			if j, ok := at[in]; ok {
				apart[j].Effect += c.Effect
				continue
			}
			at[in] = len(apart)
			apart = append(apart, c)
		}
	}
	return byName(apart)
}

// byName gathers independent inputs of one name and scope in one line.
func byName(lines []result.Contribution) []result.Contribution {
	type name struct {
		source string
		scope  result.Scope
	}
	at := map[name]int{}
	var out []result.Contribution
	for _, c := range lines {
		n := name{c.Source, c.Scope}
		j, ok := at[n]
		if !ok {
			at[n] = len(out)
			out = append(out, c)
			continue
		}
		out[j].Effect, out[j].U = math.Hypot(out[j].Effect, c.Effect), math.Hypot(out[j].U, c.U)
	}
	return out
}

// owner names what an input of that scope belongs to.
func (t Term) owner(s result.Scope, k int) string {
	switch s {
	case result.OfRun:
		return "run " + t.Run
	case result.OfReference:
		return "reference"
	case result.OfSetup:
		return "set-up " + t.Setup
	case result.OfShot:
		return "shot " + t.Setup + "\x00" + t.Shot
	case result.OfEdge:
		return "edge " + t.Setup + "\x00" + t.Shot + "\x00" + t.Edge
	}
	return fmt.Sprintf("term %d", k)
}

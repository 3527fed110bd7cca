package plan

import (
	"fmt"
	"math"
	"slices"

	"slewbook/dpt/result"
	"slewbook/waveform/unit"
)

// Make works out the plan of a bench. The error is that of Validate.
func Make(b Bench) (result.Plan, error) {
	if err := b.Validate(); err != nil {
		return result.Plan{}, err
	}
	p := result.Plan{Repeats: b.Repeats, Unchecked: b.Unchecked(), Stops: b.Stops()}
	for _, f := range Figures {
		p.Figures = append(p.Figures, f.PlanFigure)
	}
	for _, q := range b.Points() {
		out := result.PlanPoint{Short: q.Short}
		for _, f := range Figures {
			x := f.of(&q)
			if math.IsInf(x, 0) {
				x = math.NaN()
			}
			out.Values = append(out.Values, x)
		}
		if q.Short == "" {
			for _, br := range q.Breaks() {
				out.Breaks = append(out.Breaks, br.String())
			}
		}
		p.Points = append(p.Points, out)
	}
	p.Answers = b.answers()
	return p, nil
}

// answers answers the inverse questions for the bench.
func (b *Bench) answers() []string {
	v, i := b.largest()
	tj := math.NaN()
	if len(b.Temperatures) > 0 {
		tj = slices.Max(b.Temperatures)
	}
	low := slices.Min(b.Currents)
	say := func(x float64, u string) string {
		if math.IsNaN(x) {
			return "none"
		}
		return unit.Format(x, u, 4)
	}
	return []string{
		fmt.Sprintf("smallest load inductance that changes the current by no more than %s in gap and second pulse at %s, %s: %s",
			say(b.DriftMax, "1"), say(v, "V"), say(low, "A"), say(b.SmallestL(v, low), "H")),
		fmt.Sprintf("smallest bus capacitance that sags by no more than %s at %s, %s: %s",
			say(b.SagMax, "1"), say(slices.Min(b.Voltages), "V"), say(i, "A"), say(b.SmallestC(slices.Min(b.Voltages), i), "F")),
		fmt.Sprintf("largest current at %s that breaks no limit that is known: %s", say(v, "V"), say(b.LargestI(v, tj), "A")),
	}
}

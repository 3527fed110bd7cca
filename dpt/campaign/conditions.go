package campaign

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"slewbook/dpt/result"
	"slewbook/waveform"
)

// Plan is what is known of the shots beforehand. Either may be nil.
type Plan struct {
	List    *List
	Pattern *Pattern
}

// Conditions returns the record of conditions of a capture: what the set-up
// gives for all shots, over it what the name gives, over that the list. Where
// name and list differ the list counts, and a warning says so. A name whose
// numbers cannot be read is an error.
func (p Plan) Conditions(base []result.Condition, capture string) ([]result.Condition, []waveform.Warning, error) {
	all := slices.Clone(base)
	var warnings []waveform.Warning
	named := map[string]result.Condition{}
	if p.Pattern != nil {
		found, ok, err := p.Pattern.Read(capture)
		if err != nil {
			return base, nil, err
		}
		if !ok && p.List.Find(capture) == nil {
			warnings = append(warnings, waveform.Warning{Code: waveform.ConditionsUnknown,
				Text: fmt.Sprintf("the name does not have the form %s, and no list has the capture; only the conditions of the set-up are known", p.Pattern.text)})
		}
		for _, c := range found {
			named[c.Key] = c
			all = with(all, c)
		}
	}
	e := p.List.Find(capture)
	switch {
	case e != nil:
		for _, c := range e.Conditions {
			if n, ok := named[c.Key]; ok && !same(n, c) {
				warnings = append(warnings, waveform.Warning{Code: waveform.ConditionsConflict,
					Text: fmt.Sprintf("%s is %q in the name and %q in %s, line %d; the list counts", c.Key, n.Text, c.Text, p.List.Path, e.Line)})
			}
			all = with(all, c)
		}
	case p.List != nil && p.Pattern == nil:
		warnings = append(warnings, waveform.Warning{Code: waveform.ConditionsUnknown,
			Text: fmt.Sprintf("%s has no row for it; only the conditions of the set-up are known", p.List.Path)})
	}
	return all, warnings, nil
}

// with returns the record with an entry set.
func with(all []result.Condition, c result.Condition) []result.Condition {
	if old := result.FindCondition(all, c.Key); old != nil {
		*old = c
		return all
	}
	return append(all, c)
}

// same tells whether two entries say the same; a name rounds.
func same(a, b result.Condition) bool {
	if a.Unit == "" && b.Unit == "" {
		return strings.EqualFold(a.Text, b.Text)
	}
	return math.Abs(a.Value-b.Value) <= 0.005*math.Abs(b.Value)
}

// OffPlan is how far a shot may lie from its planned bus voltage and load current
// without a warning, relative: less than half a usual step of a test matrix
// (common practice, no source).
const (
	OffPlanV = 0.05
	OffPlanI = 0.10
)

// Deviation is a planned value against what was measured.
type Deviation struct {
	Key      string // of the condition
	Measured string // key of the quantity
	Plan     float64
	Value    float64 // NaN where nothing was measured
	Unit     string
	Far      bool // more than OffPlan away
}

// Relative is (measured - planned)/planned.
func (d Deviation) Relative() float64 { return (d.Value - d.Plan) / d.Plan }

// Measured is what was measured for a planned v_bus or i_load, at the turn-off where
// there is one, else at the turn-on; nil where nothing was.
func Measured(s *result.Shot, key string) *result.Measurement {
	for _, from := range map[string][]string{"v_bus": {"v_bus_off", "v_bus_on"}, "i_load": {"i_off", "i_on"}}[key] {
		if m := s.Quantity(from); m != nil && !math.IsNaN(m.Value) {
			return m
		}
	}
	return nil
}

// Deviations holds the measured bus voltage and load current of a shot against
// its plan.
func Deviations(s *result.Shot) []Deviation {
	var out []Deviation
	for _, x := range []struct {
		key     string
		allowed float64
	}{{"v_bus", OffPlanV}, {"i_load", OffPlanI}} {
		c := s.Condition(x.key)
		if c == nil || math.IsNaN(c.Value) {
			continue
		}
		d := Deviation{Key: x.key, Plan: c.Value, Value: math.NaN(), Unit: c.Unit}
		if m := Measured(s, x.key); m != nil {
			d.Measured, d.Value = m.Key, m.Value
		}
		d.Far = math.Abs(d.Value-d.Plan) > x.allowed*math.Abs(d.Plan)
		out = append(out, d)
	}
	return out
}

package dpt

import (
	"math"
	"strings"

	"slewbook/dpt/result"
	"slewbook/dpt/uncertainty"
)

const gainSource = "gain of "

// reference returns by what reference the gain that an input stands for is known, and
// which part of its uncertainty is the reference's: all but the drift since. It is ""
// for other inputs.
func (m *measurer) reference(source string) (name string, part float64) {
	role, ok := strings.CutPrefix(source, gainSource)
	t := m.opt.Channels[result.Role(role)].Traceable
	if !ok || t.Reference == "" {
		return "", 0
	}
	all := m.gainU(result.Role(role)).u
	return "reference " + t.Reference, math.Sqrt(1 - math.Pow(m.drifted(result.Role(role))/all, 2))
}

// refer gathers in every budget the gains that go by one reference: they are off
// together, so that their effects add with their signs (JCGM 100, 5.2.2), and by that
// of other set-ups as well. The drift since calibration stays the channel's own.
func (m *measurer) refer() {
	for key, q := range m.read {
		var lines []result.Contribution
		at := map[string]int{}
		for _, c := range q.budget {
			name, part := m.reference(c.Source)
			if name == "" {
				lines = append(lines, c)
				continue
			}
			drift := math.Sqrt(1 - part*part)
			if drift > 0 {
				own := c
				own.Effect, own.U = c.Effect*drift, c.U*drift
				own.Source = "drift of " + strings.TrimPrefix(c.Source, gainSource)
				lines = append(lines, own)
			}
			c.Source, c.Scope, c.Effect, c.U = name, result.OfReference, c.Effect*part, c.U*part
			if k, ok := at[name]; ok {
				lines[k].Effect += c.Effect
				continue
			}
			at[name] = len(lines)
			lines = append(lines, c)
		}
		if len(at) > 0 {
			q.budget = uncertainty.Sorted(lines)
			q.u = uncertainty.Total(q.budget)
			m.read[key] = q
		}
	}
}

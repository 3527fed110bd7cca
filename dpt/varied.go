package dpt

import (
	"maps"
	"math"
	"slices"

	"slewbook/dpt/result"
	"slewbook/waveform"
)

// varied reads quantities that lie beside those of readEdge, and gives each its
// budget in the same way: by reading again with each input moved, of the signals that they
// are read from; the others do nothing. known is the standard uncertainty of the delay
// that is left in the edge, where the reading has taken its estimate out itself; else 0.
func (m *measurer) varied(e *edge, known float64, from []result.Role, read func(e *edge, q map[string]reading)) {
	near := e.copy()
	iv := waveform.Interval{From: min(e.search.From, e.i.T0), To: e.search.To}
	iv.From = max(iv.From, e.search.From-0.2*e.search.Duration())
	near.v, near.i, near.g = crop(e.v, iv), crop(e.i, iv), crop(e.g, waveform.Interval{From: min(iv.From, e.gate.From), To: iv.To})
	for role, tr := range near.other {
		near.other[role] = crop(tr, iv)
	}
	all := func(e *edge) map[string]reading {
		q := map[string]reading{}
		read(e, q)
		return q
	}
	found := all(near)
	inputs := slices.DeleteFunc(slices.Clone(e.inputs), func(s source) bool { return !slices.Contains(from, s.of) })
	for k := range inputs {
		if inputs[k].name == delaySource && known > 0 {
			inputs[k].u, inputs[k].basis = known, fromCapture
		}
	}
	lines := m.effects(near, inputs, found, all)
	for _, key := range slices.Sorted(maps.Keys(found)) {
		q := found[key]
		c, _ := result.FindColumn(key)
		lines[key] = append(lines[key], result.Contribution{Source: noiseSource, U: q.noise, Unit: c.Unit, Effect: q.noise, Scope: result.OfReading, Basis: fromCapture})
		if !math.IsNaN(q.value) {
			q.budgeted(lines[key])
		}
		m.read[key], found[key] = q, q
	}
	m.keep(model{near, inputs, found, all, false})
}

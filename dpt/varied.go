package dpt

import (
	"maps"
	"math"
	"slices"

	"slewbook/dpt/result"
	"slewbook/waveform"
)

// varied reads quantities that lie beside those of readEdge, and gives each its
// budget in the same way: by reading again with each input moved. known is the
// standard uncertainty of the delay that is left in the edge, where the reading has
// taken its estimate out itself; else 0.
func (m *measurer) varied(e *edge, known float64, read func(e *edge, q map[string]reading)) {
	near := e.copy()
	iv := waveform.Interval{From: min(e.search.From, e.i.T0), To: e.search.To}
	iv.From = max(iv.From, e.search.From-0.2*e.search.Duration())
	near.v, near.i = crop(e.v, iv), crop(e.i, iv)
	found := map[string]reading{}
	read(near, found)
	lines := map[string][]result.Contribution{}
	for _, s := range m.sources(e) {
		if s.name == "delay of id" && known > 0 {
			s.u, s.basis = known, fromCapture
		}
		if !(s.u > 0) {
			continue
		}
		up, down := near.copy(), near.copy()
		s.move(up, s.u)
		s.move(down, -s.u)
		plus, minus := map[string]reading{}, map[string]reading{}
		read(up, plus)
		read(down, minus)
		for key, q := range found {
			lines[key] = append(lines[key], result.Contribution{Source: s.name, U: s.u, Unit: s.unit,
				Effect: moved(q.value, plus[key].value, minus[key].value), Scope: s.scope, Basis: s.basis})
		}
	}
	for _, key := range slices.Sorted(maps.Keys(found)) {
		q := found[key]
		c, _ := result.FindColumn(key)
		lines[key] = append(lines[key], result.Contribution{Source: noiseSource, U: q.noise, Unit: c.Unit, Effect: q.noise, Scope: result.OfReading, Basis: fromCapture})
		if !math.IsNaN(q.value) {
			q.budgeted(lines[key])
		}
		m.read[key] = q
	}
}

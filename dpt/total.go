package dpt

import (
	"fmt"
	"math"

	"slewbook/dpt/result"
	"slewbook/dpt/uncertainty"
	"slewbook/waveform"
)

// How far bus voltage and load current of the two edges of a shot may lie apart, relative
// and beside their uncertainty: as far as a shot from its plan.
const (
	EdgesApartV = 0.05
	EdgesApartI = 0.10
)

// total reads e_tot, the energy of both edges. Inputs that act on both, as the
// gains and the delay, are added with their signs before they are squared, so
// that the delay drops out of it to first order. Its interval reaches from the one
// window to the other.
func (m *measurer) total() {
	on, off := m.read["e_on"], m.read["e_off"]
	def := on.def + " + " + off.def
	if math.IsNaN(on.value) || math.IsNaN(off.value) {
		m.read["e_tot"] = missing(def, cmpWarning(on, off))
		return
	}
	if w := m.edgesDiffer(); w != nil {
		m.shot.Warnings = append(m.shot.Warnings, *w)
		m.read["e_tot"] = missing(def, w)
		return
	}
	q := reading{value: on.value + off.value, perDelay: on.perDelay + off.perDelay, def: def,
		over: waveform.Interval{From: min(on.over.From, off.over.From), To: max(on.over.To, off.over.To)}}
	q.warnings = append(append(q.warnings, on.warnings...), off.warnings...)
	q.derived(uncertainty.SumOfEdges(on.budget, off.budget), on, off)
	m.read["e_tot"] = q
}

// edgesDiffer warns where the two edges were not taken at one voltage and current.
func (m *measurer) edgesDiffer() *waveform.Warning {
	for _, pair := range []struct {
		off, on, unit string
		far           float64
	}{{"v_bus_off", "v_bus_on", "V", EdgesApartV}, {"i_off", "i_on", "A", EdgesApartI}} {
		a, b := m.read[pair.off], m.read[pair.on]
		off := uncertainty.Result{Value: a.value, Edge: string(result.TurnOff), Budget: a.budget}
		on := uncertainty.Result{Value: b.value, Edge: string(result.TurnOn), Budget: b.budget}
		if uncertainty.EdgesApart(off, on, pair.far) {
			return &waveform.Warning{Code: waveform.EdgesDiffer,
				Text: fmt.Sprintf("%s is %.4g %s and %s is %.4g %s, more than %.0f %% and their uncertainty apart: the turn-off and the turn-on measured are not of one voltage and current, and e_off + e_on is the energy of none",
					pair.off, a.value, pair.unit, pair.on, b.value, pair.unit, 100*pair.far)}
		}
	}
	return nil
}

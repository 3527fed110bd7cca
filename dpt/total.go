package dpt

import (
	"math"

	"slewbook/dpt/uncertainty"
	"slewbook/waveform"
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
	q := reading{value: on.value + off.value, perDelay: on.perDelay + off.perDelay, def: def,
		over: waveform.Interval{From: min(on.over.From, off.over.From), To: max(on.over.To, off.over.To)}}
	q.warnings = append(append(q.warnings, on.warnings...), off.warnings...)
	q.derived(uncertainty.SumOfEdges(on.budget, off.budget), on, off)
	m.read["e_tot"] = q
}

package dpt

import (
	"cmp"
	"fmt"
	"math"

	"slewbook/dpt/result"
	"slewbook/dpt/uncertainty"
	"slewbook/waveform"
	"slewbook/waveform/unit"
)

// storedEnergies reads what load and bank hold.
func (m *measurer) storedEnergies() {
	if c := m.opt.Given.CBus; c > 0 {
		m.read["e_bank"] = m.bankEnergy(c)
	}
	if m.off == nil {
		return // absent has told
	}
	m.read["e_load"] = m.loadEnergy()
	m.balance()
}

// loadTol is how far the inductance of the ramp may lie from the one given, as a
// factor: iron powder loses that much towards its rating, and a wrong factor of a
// probe is larger.
const loadTol = 1.3

// loadEnergy is ½·L·i² of the load at the turn-off, with the inductance that the set-up
// gives, else that of the ramp.
func (m *measurer) loadEnergy() reading {
	l, i := m.read["l_load"], m.read["i_off"]
	def := "½·l_load·i_off², l_load of the ramp"
	if g := m.opt.Given.LLoad; g > 0 {
		def = fmt.Sprintf("½·L·i_off², L = %s as given", unit.Format(g, "H", 4))
		if f := l.value / g; f > loadTol || f < 1/loadTol {
			m.warn(waveform.ScaleSuspect, result.Id, l.over,
				"the ramp of id tells a load of %s, %.3g times the %s given (circuit.l_load): a factor of id or vds that is applied twice or not at all, or another inductor; check channel.id.scale, channel.vds.scale and circuit.l_load",
				unit.Format(l.value, "H", 3), f, unit.Format(g, "H", 3))
			return missing(def, &waveform.Warning{Code: waveform.ScaleSuspect, Channel: string(result.Id), Over: l.over,
				Text: fmt.Sprintf("the ramp tells %s: one of the two is wrong", unit.Format(l.value, "H", 3))})
		}
		l = reading{value: g, def: def}
		l.budgeted([]result.Contribution{{Source: "inductance given", U: givenU * g, Unit: "H", Effect: givenU * g, Scope: result.OfSetup, Basis: assumed}})
		m.assume("inductance of the load as given known to %s (k = 1)", unit.Format(givenU, "1", 2))
	}
	if math.IsNaN(l.value) || math.IsNaN(i.value) {
		return missing(def, cmpWarning(l, i))
	}
	q := reading{value: l.value * i.value * i.value / 2, over: i.over, def: def}
	q.derived(uncertainty.Sum(
		uncertainty.Term{Factor: i.value * i.value / 2, Budget: l.budget},
		uncertainty.Term{Factor: l.value * i.value, Budget: i.budget}), l, i)
	return q
}

// bankEnergy is ½·C·V² of the bank before the first pulse, else in the first gap.
func (m *measurer) bankEnergy(c float64) reading {
	s, w := m.before()
	when := "before the first pulse"
	if w != nil && m.off != nil {
		s, when = m.off.bus, "after the turn-off"
	}
	def := fmt.Sprintf("½·C·v_bus² %s, C = %s as given", when, unit.Format(c, "F", 4))
	q := level(result.Vds, m.r.v, s, def)
	if math.IsNaN(q.value) {
		return q
	}
	v := q.value
	q.value, q.form = c*v*v/2, someForm
	q.budgeted([]result.Contribution{
		{Source: "capacitance of the bank", U: givenU * c, Unit: "F", Effect: givenU * q.value, Scope: result.OfSetup, Basis: assumed},
		m.gainOf(result.Vds, 2*q.value),
		m.zeroOf(result.Vds, m.r.v, c*v),
	})
	m.assume("capacitances of the set-up known to %s (k = 1)", unit.Format(givenU, "1", 2))
	return q
}

// balance reads what the bus gave up to the turn-off, what of it went into the device
// under test, and what is left when the load's stored energy is taken off: lost in the
// load, the loop and the freewheeling device, and all that does not close.
func (m *measurer) balance() {
	gave, took := m.flows()
	m.read["e_bus"], m.read["e_dut"] = gave, took
	held := m.read["e_load"]
	const def = "e_bus - e_dut - e_load: losses of load, loop and freewheeling device, and what does not close"
	if math.IsNaN(gave.value) || math.IsNaN(held.value) {
		m.read["e_rest"] = missing(def, cmpWarning(gave, held))
		m.read["balance"] = missing("e_rest/e_bus", cmpWarning(gave, held))
		return
	}
	rest := reading{value: gave.value - took.value - held.value, over: gave.over, def: def}
	rest.derived(uncertainty.Sum(
		uncertainty.Term{Factor: 1, Budget: gave.budget}, uncertainty.Term{Factor: -1, Budget: took.budget}, uncertainty.Term{Factor: -1, Budget: held.budget}), gave, took, held)
	share := reading{value: rest.value / gave.value, over: gave.over, def: "e_rest/e_bus"}
	share.derived(uncertainty.Sum(uncertainty.Term{Factor: 1 / gave.value, Budget: rest.budget}, uncertainty.Term{Factor: -share.value / gave.value, Budget: gave.budget}), rest, gave)
	m.read["e_rest"], m.read["balance"] = rest, share
}

// flows integrates from before the first pulse to after the turn-off. While the device
// conducts the bus itself is not seen: it falls with the charge taken, so that a pulse of
// charge Q takes Q times the mean of the bus before and after it.
func (m *measurer) flows() (gave, took reading) {
	const defBus, defDut = "Σ ∫i dt · mean of the bus before and after, over the pulses up to the turn-off", "∫v·i dt from before the first pulse to after the turn-off"
	fail := func(w *waveform.Warning) (reading, reading) { return missing(defBus, w), missing(defDut, w) }
	first, w := m.before()
	if w != nil {
		return fail(w)
	}
	over := waveform.Interval{From: first.over.From, To: m.off.bus.over.From}
	swing := m.r.vHigh - m.r.vLow
	given, charge := 0.0, 0.0
	for k := 1; k <= m.off.index; k += 2 {
		before, after := m.r.rest(m.r.v, k-1, swing, m.opt.Level), m.r.rest(m.r.v, k+1, swing, m.opt.Level)
		c := waveform.Integral(m.r.i, waveform.Interval{From: before.over.From, To: after.over.From})
		given += c * (before.level + after.level) / 2
		charge += c
	}
	spent := waveform.ProductIntegral(m.r.v, m.r.i, over)
	if math.IsNaN(given) || math.IsNaN(spent) {
		const what = "the energy up to the turn-off"
		all := waveform.Interval{From: over.From, To: m.off.bus.over.To}
		return fail(cmp.Or(lost(result.Vds, m.r.v, all, what), lost(result.Id, m.r.i, all, what),
			&waveform.Warning{Code: waveform.NotInRecord, Over: over, Text: "the bus is not at rest between the pulses up to the turn-off"}))
	}
	bus := given / charge
	zero := m.zeroOf(result.Vds, m.r.v, charge)
	budget := func(e, byZeroI, byDelay float64) []result.Contribution {
		lag := m.delayU()
		return []result.Contribution{
			m.gainOf(result.Vds, e),
			m.gainOf(result.Id, e),
			zero,
			m.zeroOfID(byZeroI),
			{Source: delaySource, U: lag.u, Unit: "s", Effect: lag.u * byDelay, Scope: m.delays.scope(), Basis: lag.basis},
		}
	}
	gave, took = reading{value: given, over: over, def: defBus}, reading{value: spent, over: over, def: defDut}
	gave.budgeted(append(budget(given, bus*over.Duration(), 0), m.forwardOf(-charge/2)))
	took.budgeted(budget(spent, waveform.Integral(m.r.v, over), -changeIntegral(m.r.v, m.r.i, over)))
	return gave, took
}

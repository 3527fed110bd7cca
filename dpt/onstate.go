package dpt

import (
	"fmt"
	"math"

	"slewbook/dpt/result"
	"slewbook/waveform"
	"slewbook/waveform/unit"
)

const (
	// onDelay is when the on-state is read after the turn-on, unless the set-up says.
	onDelay = 1e-6
	// onWidth is the length of the stretch around it that is averaged, relative to it.
	onWidth = 0.1
	// onResolved is the largest standard uncertainty of the on-state voltage, relative to
	// it, from noise, steps and zero of the channel, at which it is still told.
	onResolved = 0.1
)

// onStateVoltage reads the on-state voltage and resistance at a stated delay after v
// has passed 10 % at the turn-on, from the clamped channel where there is one. It is told
// only where the channel can resolve it. (JEP173 and IEC 63373, whose text was not seen:
// the delay, and how long the device has blocked before, belong to the number.)
func (m *measurer) onStateVoltage() {
	if m.on == nil {
		return
	}
	q := m.conductingVoltage()
	m.read["v_ds_on"] = q
	if m.opt.Device == IGBT {
		return
	}
	def := "v/i at that delay: " + q.def
	if math.IsNaN(q.value) {
		m.read["r_ds_on"] = missing(def, firstWarning(q))
		return
	}
	i := waveform.Mean(m.r.i.Samples(q.over))
	r := reading{value: q.value / i, over: q.over, def: def}
	lines := []result.Contribution{m.gainOf(result.Id, -r.value), m.zeroOfID(-r.value / i)}
	for _, c := range q.budget {
		c.Effect /= i
		lines = append(lines, c)
	}
	if m.on.noLoad(m.full) != nil || !(i > 0) {
		m.read["r_ds_on"] = missing(def, &waveform.Warning{Code: waveform.NoLoad, Channel: string(result.Id), Over: q.over, Text: "too little current flows then for a resistance"})
		return
	}
	r.budgeted(lines)
	m.read["r_ds_on"] = r
}

func (m *measurer) conductingVoltage() reading {
	role, tr := result.Vds, m.r.v
	if clamped := m.r.other[result.VdsOn]; clamped != nil {
		role, tr = result.VdsOn, clamped
	}
	delay := m.opt.OnDelay
	if delay == 0 {
		delay = onDelay
	}
	def := fmt.Sprintf("mean of %s over %s around %s after v 10 %%, %s after the device began to block", role, unit.Format(onWidth*delay, "s", 3), unit.Format(delay, "s", 3), m.blocked())
	on, w := m.on.crossing(v(10))
	if w != nil {
		return missing(def, w)
	}
	over := waveform.Interval{From: on + delay*(1-onWidth/2), To: on + delay*(1+onWidth/2)}
	if end := m.r.conducting(m.on.index+1, m.opt.Level).To; over.To > end {
		return missing(def, &waveform.Warning{Code: waveform.NotInRecord, Channel: string(role), Over: over,
			Text: fmt.Sprintf("the pulse ends %s after the turn-on, before the on-state is read; definitions.on_delay in the set-up file moves that", unit.Format(end-on, "s", 3))})
	}
	y := tr.Samples(over)
	value := waveform.Mean(y)
	if len(y) < 3 || math.IsNaN(value) || math.IsInf(value, 0) {
		return missing(def, &waveform.Warning{Code: waveform.ClippedWindow, Channel: string(role), Over: over, Text: fmt.Sprintf("%s is over range or missing there, or has fewer than three samples", role)})
	}
	gain, zero := m.gainOf(role, value), m.zeroOf(role, tr, 1)
	noise := waveform.StdDev(y) * math.Sqrt(m.r.grain[role].reach/float64(len(y)))
	if q := m.r.quantum[role]; waveform.StdDev(y) < q/2 {
		noise = math.Hypot(noise, q/math.Sqrt(12)) // too still for the steps to average out
	}
	q := reading{value: value, over: over, def: def}
	q.budgeted([]result.Contribution{
		gain, zero,
		{Source: noiseSource, U: noise, Unit: "V", Effect: noise, Scope: result.OfReading, Basis: fromCapture},
	})
	if u := math.Hypot(zero.U, noise); !(u <= onResolved*value) {
		return missing(def, &waveform.Warning{Code: waveform.FewBits, Channel: string(role), Over: over,
			Text: fmt.Sprintf("%s reads %s there, but its zero and steps are known to %s only (k = 1): a channel behind a clamp (role %s), or a zero known better (channel.%s.offset_u), is needed",
				role, unit.Format(value, "V", 3), unit.Format(u, "V", 2), result.VdsOn, role)})
	}
	return q
}

// blocked says how long the device had blocked before the turn-on.
func (m *measurer) blocked() string {
	if m.on.index == 0 {
		return "an unknown time"
	}
	return unit.Format(m.r.stay(m.on.index).Duration(), "s", 3)
}

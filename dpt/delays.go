package dpt

import (
	"fmt"
	"math"
	"strings"

	"slewbook/dpt/condition"
	"slewbook/dpt/result"
	"slewbook/dpt/uncertainty"
	"slewbook/waveform"
	"slewbook/waveform/unit"
)

// delayDoubt is the relative change of an energy from which a delay that was
// left in is worth a word.
const delayDoubt = 0.02

// uncertainEnergy is the relative standard uncertainty from which an energy is
// marked.
const uncertainEnergy = 0.05

// delays is what was found of the channels' delays in one shot and what was
// done about it.
type delays struct {
	mode    Align
	current alignment
	given   float64 // lag of the current behind the voltage that the set-up took out [s]
	applied float64 // what was taken out besides [s]
}

// alignChannels estimates the delay of the current from the shot and, where that
// is asked for and sure, takes it out.
func (r *record) alignChannels(opt Options, shot *result.Shot) delays {
	d := delays{mode: opt.Align, given: opt.Channels[result.Id].Delay - opt.Channels[result.Vds].Delay}
	if opt.Align == AlignOff {
		return d
	}
	d.current = r.align(opt.Level)
	if opt.Align == AlignApply && d.current.sure {
		d.applied = d.current.delay
		ch := condition.AsRead()
		ch.Delay = d.applied
		raw := r.i
		r.i = condition.Apply(raw, ch)
		shot.Corrections = append(shot.Corrections, result.Correction{Channel: result.Id, Kind: "delay", Value: d.applied, Unit: "s",
			Over: d.current.over, EOn: math.NaN(), EOff: math.NaN(),
			Text: fmt.Sprintf("id moved %s earlier, as found from the shot (%s)", unit.Format(d.applied, "s", 3), d.current.how)})
	}
	return d
}

// delayU is the standard uncertainty of the delay of id that is left in the traces:
// that of the estimate, and the whole of a delay that is seen and was left in; where
// none is sure, what shows at the edges, or what the set-up says of it.
func (m *measurer) delayU() stated {
	d := m.delays
	switch left := d.left(); {
	case m.opt.Channels[result.Id].Exact:
		return stated{basis: fromSimulation}
	case d.current.sure:
		return stated{u: math.Hypot(d.current.u, left), basis: fromCapture}
	case m.apart.behind != 0: // whatever is stated of it
		return stated{u: math.Abs(m.apart.behind), basis: fromCapture, unknown: d.current.beyond}
	case m.opt.Channels[result.Id].DelayU > 0:
		return stated{u: m.opt.Channels[result.Id].DelayU, basis: fromSetup}
	case d.current.beyond && m.apart.most > 0:
		return stated{u: max(defaultDelay, m.apart.most/math.Sqrt(3)), basis: fromCapture, bounded: true}
	case d.current.beyond:
		return stated{u: defaultDelay, basis: assumed, unknown: true}
	case d.mode == AlignOff, math.IsNaN(left):
		return stated{u: defaultDelay, basis: assumed}
	default:
		return stated{u: max(defaultDelay, math.Abs(left)), basis: assumed}
	}
}

// unseenDelayU is the standard uncertainty of the delay of a channel against vds
// that the capture does not show.
func (m *measurer) unseenDelayU(role result.Role) stated {
	if role == result.Vgs && m.apart.behind != 0 { // vds may be the one that lags
		return stated{u: math.Abs(m.apart.behind), basis: fromCapture}
	}
	if m.opt.Channels[role].Exact {
		return stated{basis: fromSimulation}
	}
	if u := m.opt.Channels[role].DelayU; u > 0 {
		return stated{u: u, basis: fromSetup}
	}
	m.assume("delay of %s known to %s (k = 1)", role, unit.Format(defaultDelay, "s", 2))
	return stated{u: defaultDelay, basis: assumed}
}

// scope tells what shares the error of the delay: a lag that is left in is that of the
// set-up; what is left of one that was taken out is that of the estimates.
func (d delays) scope() result.Scope {
	if d.applied != 0 {
		return result.OfRun
	}
	return result.OfSetup
}

// left is the delay that is still in the traces, NaN if it is not known.
func (d delays) left() float64 { return d.current.delay - d.applied }

// delayReadings reads the delays and the loop inductance, or why there are none.
func (m *measurer) delayReadings() {
	const def = "from the loop's equation: flux of v against i"
	d := m.delays
	q := reading{value: math.NaN(), over: nowhere, def: def, delay: &result.Delay{Suggested: math.NaN(), Applied: d.given + d.applied}}
	l := reading{value: math.NaN(), over: nowhere, def: "flux of the dip of v against i, at turn-on"}
	switch {
	case d.mode == AlignOff:
		q.warn(m.unknownDelay("the estimate of delays is switched off"))
		l.warn(&q.warnings[0])
	case d.current.sure:
		q.value, q.over = d.given+d.current.delay, d.current.over
		q.budgeted(d.current.lines)
		q.delay.Basis = d.current.how
		l.value, l.over = d.current.l, d.current.lOver
		if math.IsNaN(l.value) {
			l.over = nowhere
			l.warn(&waveform.Warning{Code: waveform.NotInRecord, Text: "the record holds no rise of the current under load to read it from"})
		}
		l.budgeted(m.loopLines(l.value))
		l.draw = m.drawDip(l)
	default:
		q.delay.Suggested = d.given + d.current.delay
		q.warn(m.unknownDelay(d.current.reason))
		l.warn(&q.warnings[0])
	}
	m.read["delay_id"], m.read["l_loop"] = q, l
	gate := missing("", m.unknownDelay("not observable: the gate's own resistance and capacitance delay it just as a probe does"))
	gate.delay = &result.Delay{Suggested: math.NaN(), Applied: m.opt.Channels[result.Vgs].Delay - m.opt.Channels[result.Vds].Delay}
	m.read["delay_vgs"] = gate
}

// loopLines is the budget of the loop inductance from the dip: L = flux of v / i.
func (m *measurer) loopLines(l float64) []result.Contribution {
	lines := []result.Contribution{m.gainOf(result.Vds, l), m.gainOf(result.Id, -l)}
	for _, c := range m.delays.current.lLines {
		if c.Source == delaySource { // as in the readings of the edges
			c.Scope = m.delays.scope()
		}
		lines = append(lines, c)
	}
	return lines
}

// drawDip shows the v that the loop inductance makes of the current's slope, its
// delay taken out: v_bus - L·di/dt over twice a twentieth of the stretch.
func (m *measurer) drawDip(l reading) func(d *result.Drawing) {
	return func(d *result.Drawing) {
		if m.on == nil {
			return
		}
		lag, h := m.delays.left(), max(l.over.Duration()/20, m.r.i.Dt)
		d.Lines = append(d.Lines, result.Construction{Role: result.Vds, Trace: sampled("v_bus - L·di/dt", l.over, 100, func(t float64) float64 {
			return m.on.bus.level - l.value*(m.r.i.At(t+lag+h)-m.r.i.At(t+lag-h))/(2*h)
		})})
	}
}

func (m *measurer) unknownDelay(why string) *waveform.Warning {
	return &waveform.Warning{Code: waveform.DelayUnknown, Channel: string(result.Id), Text: why}
}

// doubtEnergies puts a warning on the energies that a delay left in the traces
// would change, and one on the shot where the delay is not known.
func (m *measurer) doubtEnergies() {
	d := m.delays
	if d.mode == AlignOff {
		return
	}
	left := d.left()
	if !d.current.sure {
		if m.off != nil || m.on != nil {
			w := m.unknownDelay("the delay between vds and id cannot be told from this shot (" + d.current.reason + ")" + m.perNanosecond())
			m.shot.Warnings = append(m.shot.Warnings, *w)
		}
		return
	}
	for key, q := range m.read {
		if q.perDelay == 0 || math.IsNaN(q.value) {
			continue
		}
		change := -q.perDelay * left
		if math.Abs(change) > delayDoubt*math.Abs(q.value) && math.Abs(left) > 2*d.current.u {
			q.warn(&waveform.Warning{Code: waveform.DelaySuspect, Channel: string(result.Id), Over: q.over,
				Text: fmt.Sprintf("a lag of id behind vds of %s is seen in this shot and left in; taking it out (--align apply) would change this by about %s (%+.0f %%)",
					unit.Format(left, "s", 3), joules(change), 100*change/q.value)})
			m.read[key] = q
		}
	}
}

// markUncertain warns on the energies whose uncertainty is large.
func (m *measurer) markUncertain() {
	for key, q := range m.read {
		if q.perDelay != 0 && q.u > uncertainEnergy*math.Abs(q.value) {
			q.warn(&waveform.Warning{Code: waveform.EnergyUncertain, Over: q.over,
				Text: fmt.Sprintf("its standard uncertainty is %.0f %% of it (%s of that)", 100*q.u/math.Abs(q.value), uncertainty.Dominant(q.budget))})
			m.read[key] = q
		}
	}
}

// perNanosecond tells what a nanosecond does to the energies that there are.
func (m *measurer) perNanosecond() string {
	var changes []string
	for _, key := range []string{"e_off", "e_on"} {
		if q := m.read[key]; !math.IsNaN(q.value) && q.perDelay != 0 {
			changes = append(changes, fmt.Sprintf("%s by %s (%+.1f %%)", key, joules(q.perDelay*1e-9), 100*q.perDelay*1e-9/q.value))
		}
	}
	if len(changes) == 0 {
		return ""
	}
	return "; a nanosecond more of it changes " + strings.Join(changes, ", ")
}

package dpt

import (
	"fmt"
	"math"

	"slewbook/dpt/result"
	"slewbook/waveform"
	"slewbook/waveform/unit"
)

// diagnose looks, for an energy that is negative or has its window end before
// it begins, for the cause in the order in which causes are likely to be seen
// first: sign, zero, window, ringing, delay, swapped channels. Each comes with
// its evidence.
func (m *measurer) diagnose(e *edge, key string) {
	q := m.read[key]
	bad := -1
	for k, w := range q.warnings {
		if w.Code == waveform.EnergyImplausible || w.Code == waveform.WindowInverted {
			bad = k
		}
	}
	if bad < 0 {
		return
	}
	for k, finding := range []string{m.signEvidence(e), m.zeroEvidence(q), windowEvidence(q), e.ringEvidence(), m.delayEvidence(q), m.swapEvidence()} {
		q.warnings[bad].Text += fmt.Sprintf("; %d. %s", k+1, finding)
	}
	m.read[key] = q
}

func (m *measurer) signEvidence(e *edge) string {
	return fmt.Sprintf("signs: id is %s and rises by %s while the device conducts, vds blocks at %s, as they should",
		unit.Format(e.line.line.Y0, "A", 3), unit.Format(e.line.line.Slope, "A/s", 3), unit.Format(e.bus.level, "V", 3))
}

func (m *measurer) zeroEvidence(q reading) string {
	for _, c := range m.shot.Corrections {
		if c.Channel == result.Id && (c.Kind == "zero" || c.Kind == "zero-kept") {
			text := fmt.Sprintf("zero: %s of id read while it blocks", unit.Format(c.Value, "A", 3))
			if d := q.over.Duration(); d > 0 {
				text += fmt.Sprintf(", worth %s here", joules(c.Value*waveform.Integral(m.r.v, q.over)))
			}
			return text
		}
	}
	return "zero: no quiet stretch to read the zero of id from, so it may be off"
}

func windowEvidence(q reading) string {
	return fmt.Sprintf("window: from %s for %s", at(q.over.From), unit.Format(q.over.Duration(), "s", 3))
}

func (e *edge) ringEvidence() string {
	rest := part(e.search, 0, 0.5)
	spread := waveform.StdDev(e.i.Samples(rest))
	return fmt.Sprintf("ringing: id scatters by %s after the edge", unit.Format(spread, "A", 2))
}

func (m *measurer) delayEvidence(q reading) string {
	left := m.delays.left()
	switch {
	case m.delays.mode == AlignOff:
		return "delay: not looked for (--align off)"
	case math.IsNaN(left):
		return "delay: cannot be told from this shot (" + m.delays.current.reason + ")"
	}
	text := fmt.Sprintf("delay: id lags vds by %s in this shot", unit.Format(left, "s", 3))
	if !m.delays.current.sure {
		text += ", perhaps"
	}
	if q.perDelay != 0 && !math.IsNaN(q.value) {
		text += fmt.Sprintf("; without it this would change by about %s", joules(-q.perDelay*left))
	}
	return text
}

func (m *measurer) swapEvidence() string {
	return fmt.Sprintf("channels: vds rests at two levels for %.0f %% of the record and id for %.0f %%, so they are not swapped", 100*bimodal(m.r.v, m.r.vLow, m.r.vHigh), 100*m.r.bimodalCurrent())
}

// quality warns on the shot where a channel or the record is poor, each with
// its figure and what to do.
func (m *measurer) quality() {
	m.bits(result.Vds, m.r.v, m.r.vHigh-m.r.vLow)
	m.bits(result.Id, m.r.i, m.full)
	m.timeScale()
	m.scales()
	m.continuity()
	m.periodic()
	m.slowPassage()
	m.tellPartials()
	m.plan()
	m.stated()
	m.sag()
	m.restOfRamp()
	m.zeroDrift()
	m.onState()
	m.tellCreep()
	for _, e := range []*edge{m.off, m.on} {
		if e != nil && e.noLoad(m.full) == nil {
			m.pickUp(e)
		}
	}
}

// fewCodes is the fewest steps of the converter that a swing should span: with
// fewer, a step is worth more than two per cent of it.
const fewCodes = 50

func (m *measurer) bits(role result.Role, tr *waveform.Trace, swing float64) {
	q := m.r.quantum[role]
	if codes := swing / q; codes < fewCodes {
		m.warn(waveform.FewBits, role, waveform.Interval{}, "%s (trace %q) swings over %.0f steps of its converter (%s each): use more of the input range", role, tr.Name, codes, unit.Format(q, role.Unit(), 3))
	}
}

// sagTol is the fall of the bus over the first pulse that is worth a word.
const sagTol = 0.05

// sag warns where the bus falls between before the first pulse and the gap.
func (m *measurer) sag() {
	if len(m.r.events) < 3 || m.r.events[0].Edge != result.TurnOn {
		return
	}
	swing := m.r.vHigh - m.r.vLow
	before, after := m.r.rest(m.r.v, 0, swing, m.opt.Level), m.r.rest(m.r.v, 2, swing, m.opt.Level)
	if fall := before.level - after.level; fall > sagTol*before.level {
		m.warn(waveform.BusSag, result.Vds, after.over, "the bus falls from %s before the first pulse to %s after it (%.0f %%): each edge is referred to its own bus voltage",
			unit.Format(before.level, "V", 4), unit.Format(after.level, "V", 4), 100*fall/before.level)
	}
}

// How far from zero the load's ramp may start, relative to the load current at its end, and
// for a bend of the ramp as large as its slope: a tenth of it, were it a parabola.
const (
	startTol  = 0.01
	startBend = 0.15
)

// rampStart returns from which current the load's ramp of the first pulse starts, carried
// back, where that is not the zero that it had before; else level 0.
func (m *measurer) rampStart() state {
	if len(m.r.events) < 2 || m.r.events[0].Edge != result.TurnOn || m.r.events[0].Pulse != 1 || m.opt.KeepZero {
		return state{}
	}
	e := m.r.newEdge(0, m.opt.Level)
	early := part(m.r.stay(1), 0.3, 0.6)
	line := m.r.fitLoad(early, e.bus.level)
	start := line.at(e.search.From)
	n := float64(line.line.N)
	noise := 4 * line.line.Residual * math.Sqrt(12/n) // of the line, carried back by its own length
	tol := (startTol + startBend*math.Abs(zeroIfNaN(m.read["load_bend"].value))) * m.full
	if math.Abs(start) > max(tol, noise) {
		return state{level: start, over: early}
	}
	return state{}
}

// restOfRamp warns of such a start: a sensor whose zero moves with the voltage (finite
// common-mode rejection), with overload or with time.
func (m *measurer) restOfRamp() {
	if start := m.start.level; start != 0 {
		m.warn(waveform.CommonMode, result.Id, m.start.over, "the ramp of id, carried back, starts from %s in place of 0 (%.1f %% of the largest load current): the zero of its sensor moves with the voltage, with overload or with time",
			unit.Format(start, "A", 3), 100*start/m.full)
	}
}

// driftTol is how far the zero of the current may move over the record, relative
// to the largest load current.
const driftTol = 0.02

// zeroDrift warns where the current's zero, while the device blocks, is another
// one later in the record: droop of a coil or transformer, overload, or a current
// that still flows.
func (m *measurer) zeroDrift() {
	if math.Abs(m.drift) > driftTol*m.full {
		m.warn(waveform.CommonMode, result.Id, waveform.Interval{}, "while the device blocks, id rests %s from its zero later in the record (%.1f %% of the largest load current): droop of the sensor (channel.id.droop takes it out), overload, or a current that still flows",
			unit.Format(m.drift, "A", 3), 100*math.Abs(m.drift)/m.full)
	}
}

// pickUpTol is how far a channel may go where physics does not let it, while v
// moves, relative to the load current or the gate's swing.
const (
	pickUpTol     = 0.05
	pickUpGateTol = 0.25
)

// pickUp warns where a channel shows, just while v moves, what physics does not
// let it show: at turn-off a current above the load current, at turn-on one below
// zero, and a gate beyond its rails. Capacitance and the Miller effect move them
// the other way; a probe with finite common-mode rejection, or a loop of its ground
// lead, picks dv/dt up with either sign.
func (m *measurer) pickUp(e *edge) {
	a, b := v(5), v(95)
	if e.kind == result.TurnOn {
		a, b = b, a
	}
	from, wa := e.crossing(a)
	to, wb := e.crossing(b)
	if wa != nil || wb != nil || !(to > from) {
		return
	}
	iv := waveform.Interval{From: from, To: to}
	beyond, sign := 0.0, "below zero"
	if e.kind == result.TurnOn {
		// Once the current is there it may ring through zero.
		there, _ := e.crossing(i(90))
		low, _ := waveform.Min(e.i, waveform.Interval{From: from, To: min(to, there)})
		beyond = -low
	} else {
		high, t := waveform.Max(e.i, iv)
		beyond, sign = high-e.line.at(t), "above the load current"
	}
	if beyond > pickUpTol*e.load+restSigma*e.grain[result.Id].sigma {
		m.warn(waveform.CommonMode, result.Id, iv, "id goes %s %s while v moves by %s: it picks up dv/dt, or lags by a part of a period", unit.Format(beyond, "A", 3), sign,
			unit.Format(0.9*e.bus.level/iv.Duration(), "V/s", 3))
	}
	if e.g == nil || math.IsNaN(e.gLow+e.gHigh) {
		return
	}
	low, _ := waveform.Min(e.g, iv)
	high, _ := waveform.Max(e.g, iv)
	if out := max(e.gLow-low, high-e.gHigh); out > pickUpGateTol*(e.gHigh-e.gLow)+restSigma*e.grain[result.Vgs].sigma {
		m.warn(waveform.CommonMode, result.Vgs, iv, "vgs goes %s beyond its rails while v moves by %s: it picks up dv/dt, or the voltage of an inductance in its loop", unit.Format(out, "V", 3),
			unit.Format(0.9*e.bus.level/iv.Duration(), "V/s", 3))
	}
}

// onStateTol is how far off zero the on-state voltage may be, beyond what the device
// explains, relative to the bus; igbtKnee is what an IGBT keeps as its current goes to
// zero (high-voltage ones included, common practice, no source) [V].
const (
	onStateTol = 0.015
	igbtKnee   = 3
)

// offZero returns by how much vds is off zero while the device conducts, and where, if
// that is more than any device explains; else level 0. With positive current it does not
// rest below zero; and continued back to no current it has no voltage but a knee.
func (m *measurer) offZero() state {
	k := m.r.longestOn()
	if k < 0 {
		return state{}
	}
	over := m.r.conducting(k, m.opt.Level)
	tol := onStateTol * m.r.vHigh
	if y := waveform.Level(m.r.v.Samples(over), m.opt.Level); y < -tol {
		return state{level: y, over: over}
	}
	over.From = part(m.r.stay(k), 0.3, 1).From
	v, i := waveform.FitLine(m.r.v, over), waveform.FitLine(m.r.i, over)
	if !(i.At(over.From) < 0.7*i.At(over.To)) || !(i.Slope > 0) {
		return state{} // too little of a ramp to continue back
	}
	none := i.T - i.Y0/i.Slope // when the current would be zero
	far := (none - v.T) / over.Duration()
	g := m.r.grain[result.Vds]
	least := restSigma * v.Residual * math.Sqrt(g.reach*(1+12*far*far)/float64(v.N))
	least += g.stillSteps(v, far)
	y := v.At(none)
	if m.opt.Device == IGBT {
		y -= igbtKnee
	}
	if y < max(tol, least) || math.IsNaN(y) {
		return state{}
	}
	return state{level: y, over: over}
}

func (m *measurer) onState() {
	switch y := m.offV.level; {
	case y < 0:
		m.warn(waveform.NoBaseline, result.Vds, m.offV.over, "vds rests at %s while the device carries positive current: its zero is off by that or more, which moves the levels and the energies; channel.vds.offset takes it out",
			unit.Format(y, "V", 3))
	case y > 0:
		m.warn(waveform.NoBaseline, result.Vds, m.offV.over, "vds of the device that conducts, continued back to no current, keeps %s that no device of this kind explains: its zero is off, or its probe has not settled; that moves the levels and the energies. channel.vds.offset takes a zero out",
			unit.Format(y, "V", 3))
	}
}

func (m *measurer) warn(code waveform.Code, role result.Role, over waveform.Interval, format string, args ...any) {
	m.shot.Warnings = append(m.shot.Warnings, waveform.Warning{Code: code, Channel: string(role), Over: over, Text: fmt.Sprintf(format, args...)})
}

// warnOf warns of one quantity, if it has a number.
func (m *measurer) warnOf(key string, w waveform.Warning) {
	if q, ok := m.read[key]; ok && !math.IsNaN(q.value) {
		q.warn(&w)
		m.read[key] = q
	}
}

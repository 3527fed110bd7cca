package dpt

import (
	"fmt"
	"maps"
	"math"
	"slices"

	"slewbook/dpt/result"
	"slewbook/waveform"
	"slewbook/waveform/unit"
)

// measurer reads the quantities of one record into a shot.
type measurer struct {
	r       *record
	opt     Options
	shot    *result.Shot
	off, on *edge   // nil where the record has none to measure
	full    float64 // largest load current at any edge [A], to judge "no load" by
	read    map[string]reading
	delays  delays
	zero    state   // of the current
	drift   float64 // of it, later in the record [A], NaN if it was read once only
}

// Short names for the limits that the definitions are made of.
func v(percent float64) result.Limit { return result.Limit{Signal: result.Vds, Percent: percent} }
func i(percent float64) result.Limit { return result.Limit{Signal: result.Id, Percent: percent} }
func g(percent float64) result.Limit { return result.Limit{Signal: result.Vgs, Percent: percent} }

func (m *measurer) run() {
	m.read = map[string]reading{}
	m.r.sigma = map[result.Role]float64{result.Vds: sigma(m.r.v), result.Id: sigma(m.r.i)}
	if m.r.g != nil {
		m.r.sigma[result.Vgs] = sigma(m.r.g)
	}
	m.pickEdges()
	m.gateLevels()
	m.loadRamp()
	m.delayReadings()
	m.edgeQuantities(result.TurnOff, m.off, m.opt.PulseOff, m.opt.WindowOff)
	m.edgeQuantities(result.TurnOn, m.on, m.opt.PulseOn, m.opt.WindowOn)
	m.doubtEnergies()
	m.markUncertain()
	m.quality()
	for _, e := range []*edge{m.off, m.on} {
		if e != nil {
			m.diagnose(e, energyKey(e.kind))
		}
	}
	for _, c := range result.Columns {
		m.emit(c.Key, c.Unit)
		if m.opt.AllWindows && (c.Key == "e_off" || c.Key == "e_on") {
			for _, w := range result.Windows {
				if w.Edge == c.Edge {
					m.emit(c.Key+"."+w.Name, c.Unit)
				}
			}
		}
	}
}

func (m *measurer) emit(key, unit string) {
	q, ok := m.read[key]
	if !ok {
		panic("dpt: no reading for the column " + key)
	}
	u := q.u
	if u == 0 {
		u = math.NaN()
	}
	m.shot.Quantities = append(m.shot.Quantities, result.Measurement{
		Key: key, Unit: unit, Value: q.value, U: u, Over: q.over, Definition: q.def,
		Dominant: q.dominant, PerDelay: q.perDelay, Delay: q.delay, Warnings: q.warnings})
}

// pickEdges chooses the turn-off and the turn-on to be measured, and reads all
// edges' load currents on the way, since what is "no load" shows only among
// them.
func (m *measurer) pickEdges() {
	var offs, ons []*edge
	for k := range m.r.events {
		e := m.r.newEdge(k, m.opt.Level)
		if e.kind == result.TurnOff {
			offs = append(offs, e)
		} else {
			ons = append(ons, e)
		}
		m.full = max(m.full, e.largest())
		// The first crossing of half the bus is the event's instant.
		if t, w := e.crossing(v(50)); w == nil {
			m.r.events[k].T = t
		}
		m.r.events[k].Basis = e.basis()
	}
	m.unnumber(ons)
	m.off = pick(offs, m.opt.PulseOff, 0)
	m.on = pick(ons, m.opt.PulseOn, 2)
	if pulses := max(len(offs), len(ons)); pulses < 2 {
		has := fmt.Sprintf("%d turn-off and %d turn-on", len(offs), len(ons))
		m.shot.Warnings = append(m.shot.Warnings, waveform.Warning{Code: waveform.SingleEdge,
			Text: "the record is no whole double pulse: it holds " + has})
	}
}

// unnumber takes the numbers off the pulses of a record whose first turn-on
// carries load current already, so that pulses went before it.
func (m *measurer) unnumber(ons []*edge) {
	if len(ons) == 0 || ons[0].index != 0 || ons[0].noLoad(m.full) != nil {
		return
	}
	for k := range m.r.events {
		m.r.events[k].Pulse = 0
	}
	for _, e := range ons {
		e.pulse = 0
	}
}

// pick returns the edge of the pulse asked for; without such a wish the first
// one whose pulse is not known to come before the given one. For a turn-on a
// first pulse alone has to do: whether it carries load shows in its current.
func pick(edges []*edge, asked, from int) *edge {
	for _, e := range edges {
		if asked > 0 && e.pulse == asked || asked == 0 && (e.pulse == 0 || e.pulse >= from) {
			return e
		}
	}
	if asked == 0 && len(edges) > 0 {
		return edges[0]
	}
	return nil
}

// basis tells for people which signals agreed on an event.
func (e *edge) basis() string {
	s := "vds passes " + unit.Format(e.bus.level/2, "V", 3)
	if e.g != nil {
		limit := g(10)
		if e.kind == result.TurnOff {
			limit = g(90)
		}
		if t, w := e.crossing(limit); w == nil {
			if tv, w := e.crossing(v(50)); w == nil {
				s += fmt.Sprintf(", %s after the %s", unit.Format(tv-t, "s", 3), limit)
			}
		} else {
			s += "; the gate shows no command for it"
		}
	}
	if e.load == e.load {
		s += "; load current " + unit.Format(e.load, "A", 3)
	}
	return s
}

// absent gives the same reason to all quantities of an edge that cannot be
// measured.
func (m *measurer) absent(kind result.Edge, w *waveform.Warning) {
	for _, c := range result.Columns {
		if c.Edge == kind {
			m.setMissing(c.Key, w)
		}
	}
	for _, win := range result.Windows {
		if win.Edge == kind {
			m.setMissing(energyKey(kind)+"."+win.Name, w)
		}
	}
}

func (m *measurer) setMissing(key string, w *waveform.Warning) {
	if _, ok := m.read[key]; !ok {
		m.read[key] = missing("", w)
	}
}

func energyKey(kind result.Edge) string {
	if kind == result.TurnOff {
		return "e_off"
	}
	return "e_on"
}

func (m *measurer) notInRecord(kind result.Edge, asked int) *waveform.Warning {
	text := fmt.Sprintf("the record holds no %s", kind)
	if asked > 0 {
		text = fmt.Sprintf("the record holds no %s of pulse %d", kind, asked)
	}
	return &waveform.Warning{Code: waveform.NotInRecord, Text: text}
}

// level reads a settled level.
func level(s state, def string) reading {
	q := reading{value: s.level, over: s.over, def: def}
	if math.IsNaN(s.level) {
		q.over = nowhere
		q.warn(&waveform.Warning{Code: waveform.NotInRecord, Over: s.over,
			Text: "there is no stretch at rest, or it holds samples that are over range or missing"})
	}
	return q
}

// edgeQuantities reads the quantities of the edge that was picked for a kind.
func (m *measurer) edgeQuantities(kind result.Edge, e *edge, asked int, window string) {
	if e == nil {
		m.absent(kind, m.notInRecord(kind, asked))
		return
	}
	idle := e.noLoad(m.full)
	q := m.readEdge(e, idle == nil)
	maps.Copy(m.read, q)
	if idle != nil {
		m.absent(kind, idle)
		return
	}
	m.read[energyKey(kind)] = q[energyKey(kind)+"."+window]
	m.budget(e, q)
	m.ringing(e)
	m.mark(e, window)
}

// ringing reads the ringing after the edge: of v after a turn-off, of i, without
// the load's ramp under it, after a turn-on.
func (m *measurer) ringing(e *edge) {
	if e.kind == result.TurnOff {
		from := waveform.FirstCrossing(e.v, e.bus.level, waveform.Rising, e.search)
		m.read["f_ring_off"], m.read["zeta_off"] = e.ring(result.Vds, e.bus.level, from)
		return
	}
	flat := *e
	flat.i = e.withoutRamp()
	from := m.read["t_rr"].over.To
	m.read["f_ring_on"], m.read["zeta_on"] = flat.ring(result.Id, 0, from)
}

// withoutRamp returns the current less the load line, from the edge on.
func (e *edge) withoutRamp() *waveform.Trace {
	lo, hi := e.i.Indices(e.search)
	out := *e.i
	out.T0, out.Y = e.i.Time(lo), make([]float64, hi-lo)
	for k := range out.Y {
		out.Y[k] = e.i.Y[lo+k] - e.line.line.At(e.i.Time(lo+k))
	}
	return &out
}

// readEdge reads all quantities of an edge; without load current those of the
// voltage only. It depends on the edge alone, so that it can be asked again
// about an edge that is moved a little.
func (m *measurer) readEdge(e *edge, loaded bool) map[string]reading {
	q := map[string]reading{}
	if e.kind == result.TurnOff {
		m.readTurnOff(e, loaded, q)
	} else {
		m.readTurnOn(e, loaded, q)
	}
	if loaded {
		m.readEnergies(e, q)
	}
	return q
}

func (m *measurer) readTurnOff(e *edge, loaded bool, q map[string]reading) {
	q["v_bus_off"] = e.settled(level(e.bus, "level at rest after the turn-off, "+string(m.opt.Level)))
	q["v_peak"] = e.peak(result.Vds, e.search, "largest sample up to the next event")
	q["v_overshoot"] = ratio(q["v_peak"], q["v_bus_off"])
	rise := e.duration(v(10), v(90))
	q["t_rise_v"] = rise
	q["dvdt_off"] = average(rise, e.bus.level, 80)
	q["dvdt_off_max"] = e.steepest(result.Vds, rise)
	if !loaded {
		return
	}
	q["i_off"] = e.loadCurrent()
	q["td_off"] = e.duration(g(90), v(10))
	if m.opt.Device == IGBT {
		q["td_off"] = e.duration(g(90), i(90))
	}
	fall := e.duration(i(90), i(10))
	q["t_fall_i"] = fall
	q["didt_off"] = average(fall, e.load, 80)
	q["didt_off_max"] = e.steepest(result.Id, fall)
}

func (m *measurer) readTurnOn(e *edge, loaded bool, q map[string]reading) {
	q["v_bus_on"] = level(e.bus, "level at rest before the turn-on, "+string(m.opt.Level))
	fall := e.duration(v(90), v(10))
	if loaded {
		q["i_on"] = e.loadCurrent()
		q["td_on"] = e.duration(g(10), v(90))
		if m.opt.Device == IGBT {
			q["td_on"] = e.duration(g(10), i(10))
		}
		rise := e.duration(i(10), i(90))
		q["t_rise_i"] = rise
		q["didt_on"] = average(rise, e.load, 80)
		q["didt_on_max"] = e.steepest(result.Id, rise)
		q["i_peak"] = e.currentPeak()
		q["i_overshoot"] = ratio(q["i_peak"], q["i_on"])
		q["i_rrm"], q["t_rr"], q["q_rr"] = e.recovery()
		fall = e.voltageFall(fall, q)
	}
	q["t_fall_v"] = fall
	q["dvdt_on"] = average(fall, e.bus.level, 80)
	q["dvdt_on_max"] = e.steepest(result.Vds, fall)
}

// voltageFall reads the voltage fall without the L·di/dt dip as well: from i 90 %
// where v is through 90 % before that. It returns the fall from the first
// crossing, with a warning where the dip is in it.
func (e *edge) voltageFall(fall reading, q map[string]reading) reading {
	after := fall
	after.warnings = nil
	after.def = "v 90 % to v 10 %, not before i 90 %"
	i90, w := e.crossing(i(90))
	if math.IsNaN(fall.value) || w != nil {
		after.value = math.NaN()
		after.over = nowhere
		after.warn(w, firstWarning(fall))
	} else if i90 > fall.over.From {
		fall.warn(&waveform.Warning{Code: waveform.DipInWindow, Channel: string(result.Vds), Over: waveform.Interval{From: fall.over.From, To: i90},
			Text: fmt.Sprintf("v passes 90 %% while the current still rises, so the L·di/dt dip is in the time: %.4g ns from v 90 %%, %.4g ns from i 90 %%", fall.value*1e9, (fall.over.To-i90)*1e9)})
		after.over.From = i90
		after.ends = []result.Limit{i(90), v(10)}
		after.value = after.over.Duration()
		if after.value < 0 {
			after.warn(e.inverted(i(90), v(10), after.over))
			after.value = math.NaN()
		}
	}
	q["t_fall_v.after-i90"] = after
	slope := after
	slope.value = math.NaN()
	if !math.IsNaN(after.value) {
		// v at the start is what it is by then, not 90 %.
		slope.value = (e.v.At(after.over.From) - 0.1*e.bus.level) / after.value
		if !(slope.value > 0) || math.IsInf(slope.value, 0) {
			slope.value = math.NaN()
			slope.warn(&waveform.Warning{Code: waveform.FewSamples, Channel: string(result.Vds), Over: after.over,
				Text: "v is at 10 % as soon as i is at 90 %: there is no fall to take a slope of"})
		}
	}
	q["dvdt_on.after-i90"] = slope
	return fall
}

// loadCurrent is the load current at an edge as a reading on the stretch that
// the load line was fitted on.
func (e *edge) loadCurrent() reading {
	instant := "v passes half the bus"
	if e.kind == result.TurnOn {
		instant = "i passes half of it"
	}
	q := reading{value: e.load, over: e.line.over, def: "load line continued to when " + instant}
	if n := e.line.line.N; n < minQuiet {
		q.warn(&waveform.Warning{Code: waveform.SettleShort, Channel: string(result.Id), Over: e.line.over,
			Text: fmt.Sprintf("the load's ramp is seen for %d samples only", n)})
	}
	if e.line.line.Residual > 0.05*math.Abs(e.load) {
		q.warn(&waveform.Warning{Code: waveform.SettleShort, Channel: string(result.Id), Over: e.line.over,
			Text: fmt.Sprintf("the current does not follow a straight ramp there: it is off by %.3g A (standard deviation)", e.line.line.Residual)})
	}
	return q
}

// settled warns where the voltage does not come to rest after the turn-off
// within what is left of the record.
func (e *edge) settled(q reading) reading {
	late := part(e.bus.over, 0.5, 1)
	early := part(e.bus.over, 0, 0.5)
	a, b := waveform.Mean(e.v.Samples(early)), waveform.Mean(e.v.Samples(late))
	spread := waveform.StdDev(e.v.Samples(late))
	if math.Abs(a-b) > 0.01*math.Abs(b) || spread > 0.03*math.Abs(b) {
		q.warn(&waveform.Warning{Code: waveform.SettleShort, Channel: string(result.Vds), Over: e.bus.over,
			Text: fmt.Sprintf("the voltage is not at rest there: its two halves differ by %.3g V, and it rings with %.3g V (standard deviation)", math.Abs(a-b), spread)})
	}
	return q
}

// ratio is (a - b)/b on the interval of a.
func ratio(a, b reading) reading {
	q := reading{value: (a.value - b.value) / b.value, over: a.over, def: "relative to the base"}
	if math.IsNaN(q.value) {
		q.over = nowhere
		q.warn(firstWarning(a), firstWarning(b))
	}
	return q
}

// readEnergies reads the energy in every window of the edge.
func (m *measurer) readEnergies(e *edge, q map[string]reading) {
	for _, w := range result.Windows {
		if w.Edge == e.kind {
			r := e.energy(w)
			r.warn(e.energySampling(r)...)
			q[energyKey(e.kind)+"."+w.Name] = r
		}
	}
}

// energySampling warns where the product of v and i is made of few samples.
func (e *edge) energySampling(q reading) []*waveform.Warning {
	if math.IsNaN(q.value) {
		return nil
	}
	if n := q.over.Duration() / e.i.Dt; n < 2*minEdgeSamples {
		return []*waveform.Warning{{Code: waveform.FewSamples, Over: q.over, Text: fmt.Sprintf("only %.1f samples in the window", n)}}
	}
	return nil
}

// mark leaves what figures draw.
func (m *measurer) mark(e *edge, window string) {
	q := m.read[energyKey(e.kind)]
	limits := []result.Limit{v(10), v(90), i(90), i(10)}
	if e.kind == result.TurnOn {
		limits = []result.Limit{i(10), i(90), v(90), v(10)}
	}
	if w, ok := result.FindWindow(window, e.kind); ok {
		limits = append(limits, w.Start)
		if w.Duration <= 0 {
			limits = append(limits, w.End)
		}
	}
	marks := result.EdgeMarks{Edge: e.kind, Pulse: e.pulse, T: m.r.events[e.index].T, Bus: e.bus.level, Load: e.load,
		Window: q.over, Name: window, Energy: q.value}
	for k, l := range limits {
		if slices.Contains(limits[:k], l) {
			continue
		}
		if t, w := e.crossing(l); w == nil {
			tr, _ := e.trace(l.Signal)
			marks.Marks = append(marks.Marks, result.Mark{Role: l.Signal, Label: l.String(), T: t, Y: tr.At(t)})
		}
	}
	peak, role, label := m.read["v_peak"], result.Vds, "v peak"
	if e.kind == result.TurnOn {
		peak, role, label = m.read["i_peak"], result.Id, "i peak"
	}
	if !math.IsNaN(peak.value) {
		marks.Marks = append(marks.Marks, result.Mark{Role: role, Label: label, T: peak.over.From, Y: peak.value})
	}
	m.shot.Edges = append(m.shot.Edges, marks)
}

// gateLevels reads the settled gate levels and the extremes of the gate.
func (m *measurer) gateLevels() {
	keys := []string{"vgs_high", "vgs_low", "vgs_max", "vgs_min"}
	if m.r.g == nil {
		w := &waveform.Warning{Code: waveform.NotInRecord, Channel: string(result.Vgs), Text: "no trace has the role vgs"}
		for _, key := range keys {
			m.read[key] = missing("", w)
		}
		return
	}
	high, low := state{level: math.NaN()}, state{level: math.NaN()}
	swing := m.r.gHigh - m.r.gLow
	for k := range len(m.r.events) + 1 {
		on := m.r.conducts(k)
		if on && math.IsNaN(high.level) {
			high = m.r.rest(m.r.g, k, swing, m.opt.Level)
		}
		if !on && math.IsNaN(low.level) {
			low = m.r.rest(m.r.g, k, swing, m.opt.Level)
		}
	}
	m.read["vgs_high"] = level(high, "level at rest while on, "+string(m.opt.Level))
	m.read["vgs_low"] = level(low, "level at rest while off, "+string(m.opt.Level))
	whole := m.r.g.Span()
	for _, key := range keys[:2] {
		m.read[key] = m.gateU(m.read[key])
	}
	m.read["vgs_max"] = gateExtreme(m.r.g, whole, waveform.Max, "largest sample of the record")
	m.read["vgs_min"] = gateExtreme(m.r.g, whole, waveform.Min, "smallest sample of the record")
	for _, key := range keys[2:] {
		m.read[key] = m.gateU(m.read[key])
	}
}

// gateU gives a gate voltage its uncertainty: gain, zero and noise.
func (m *measurer) gateU(q reading) reading {
	if !math.IsNaN(q.value) {
		q.u = math.Hypot(math.Hypot(m.gainU(result.Vgs)*q.value, m.offsetU(result.Vgs, m.r.g)), m.r.sigma[result.Vgs])
	}
	return q
}

func gateExtreme(tr *waveform.Trace, iv waveform.Interval, extreme func(*waveform.Trace, waveform.Interval) (y, t float64), def string) reading {
	y, t := extreme(tr, iv)
	if math.IsNaN(y) {
		return missing(def, &waveform.Warning{Code: waveform.ClippedWindow, Channel: string(result.Vgs), Over: iv,
			Text: "a sample of the gate is over range or missing: its extremes are not known"})
	}
	return reading{value: y, over: waveform.Interval{From: t, To: t}, def: def}
}

// loadBendTol is the bend of the ramp from which it is worth a word, and must
// stand out of its own noise.
const loadBendTol = 0.10

// loadRamp reads the load inductance from the ramp of the first pulse, and its
// bend.
func (m *measurer) loadRamp() {
	// The first stay in which the device conducts, from a fifth of it on: the
	// turn-on has rung out by then.
	k := 0
	if m.r.events[0].Edge == result.TurnOn {
		k = 1
	}
	over := part(m.r.stay(k), 0.2, 1)
	over.To = min(over.To, m.r.conducting(k, m.opt.Level).To)
	l, bend := m.r.loadInductance(over, m.rampBus(k))
	pulse := "the first pulse in the record"
	ql := reading{value: l, over: over, def: "(v_bus - v)/(di/dt), ramp of " + pulse}
	qb := reading{value: bend, over: over, def: "change of slope from start to end, ramp of " + pulse}
	if len(m.r.i.Samples(over)) < minQuiet || !(l > 0) {
		w := &waveform.Warning{Code: waveform.NotInRecord, Channel: string(result.Id), Over: over, Text: "there is no ramp of the load current to read it from"}
		ql, qb = missing(ql.def, w), missing(qb.def, w)
	} else if math.Abs(bend) > loadBendTol && math.Abs(bend) > 4*m.bendNoise(over) {
		qb.warn(&waveform.Warning{Code: waveform.LoadBend, Channel: string(result.Id), Over: over,
			Text: fmt.Sprintf("the slope of the load's ramp changes by %+.0f %% from start to end: up is saturation, down is resistance or a sagging bus", 100*bend)})
	}
	if !math.IsNaN(ql.value) {
		ql.u = ql.value * math.Hypot(math.Hypot(m.gainU(result.Vds), m.gainU(result.Id)), m.bendNoise(over)/4)
		qb.u = m.bendNoise(over)
	}
	m.read["l_load"], m.read["load_bend"] = ql, qb
}

// rampBus returns the bus voltage that the load sees while the device conducts
// in stay k: the level at rest before, when nothing flows yet, rather than the
// one after, which has the freewheeling device's forward voltage on it.
func (m *measurer) rampBus(k int) float64 {
	n := k - 1
	if n < 0 {
		n = k + 1
	}
	if n > len(m.r.events) {
		return math.NaN()
	}
	return m.r.rest(m.r.v, n, m.r.vHigh-m.r.vLow, m.opt.Level).level
}

// bendNoise is the standard deviation of the bend that noise of the current
// alone would give: each half's slope has σ√12/(n^1.5 dt).
func (m *measurer) bendNoise(over waveform.Interval) float64 {
	line := waveform.FitLine(m.r.i, over)
	n := float64(line.N) / 2
	slope := line.Residual * math.Sqrt(12) / (math.Pow(n, 1.5) * m.r.i.Dt)
	return 2 * math.Sqrt2 * slope / math.Abs(line.Slope)
}

// zeroEffect completes the correction of the zero with what it does to the
// energies: -zero · ∫v dt over the window.
func (m *measurer) zeroEffect() {
	for k := range m.shot.Corrections {
		c := &m.shot.Corrections[k]
		if c.Kind != "zero" && c.Kind != "zero-kept" {
			continue
		}
		c.EOff = -m.zero.level * waveform.Integral(m.r.v, m.read["e_off"].over)
		c.EOn = -m.zero.level * waveform.Integral(m.r.v, m.read["e_on"].over)
	}
}

package dpt

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"slewbook/dpt/result"
	"slewbook/dpt/uncertainty"
	"slewbook/waveform"
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
	lags    map[result.Role]stated // what is known of the lags of the partner's channels
	zero    state                  // of the current
	offV    state                  // where vds rests while on, off zero by more than a device explains; level 0 where it does not
	creep   state                  // by how much vds is off behind the turn-on from where it settles; level 0 where it is not
	apart   apart                  // how far the passages of v and i lie from each other
	drift   float64                // of it, later in the record [A], NaN if it was read once only
	start   state                  // from where the ramp of the load starts in place of zero; level 0 where it does not
	models  []model                // what is left for simulate
}

// Short names for the limits that the definitions are made of.
func v(percent float64) result.Limit { return result.Limit{Signal: result.Vds, Percent: percent} }
func i(percent float64) result.Limit { return result.Limit{Signal: result.Id, Percent: percent} }
func g(percent float64) result.Limit { return result.Limit{Signal: result.Vgs, Percent: percent} }

func (m *measurer) run() {
	m.read, m.lags = map[string]reading{}, map[result.Role]stated{}
	m.r.grain = m.r.grains(m.zero, m.opt.Level)
	m.offV, m.creep = m.offZero(), m.onCreep()
	m.knownSteps()
	m.pickEdges()
	m.gateLevels()
	m.beyondLimits()
	m.checkPartner()
	m.shiftBranches()
	m.loadRamp()
	m.start = m.rampStart()
	m.apart = m.middlesApart()
	m.delayReadings()
	m.alignPartner()
	m.deadTimes()
	m.edgeQuantities(result.TurnOff, m.off, m.opt.PulseOff, m.opt.WindowOff)
	m.edgeQuantities(result.TurnOn, m.on, m.opt.PulseOn, m.opt.WindowOn)
	m.total()
	m.extremes()
	m.idleGate()
	m.gateCharge()
	m.refer()
	m.doubtEnergies()
	m.tellApart()
	m.markUncertain()
	m.simulate()
	m.given()
	m.parallel(m.off)
	m.parallel(m.on)
	m.busSag()
	m.storedEnergies()
	m.onStateVoltage()
	m.refer()
	m.overdue()
	m.quality()
	for _, e := range []*edge{m.off, m.on} {
		if e != nil {
			m.diagnose(e, energyKey(e.kind))
		}
	}
	m.emitAll()
}

// emitAll leaves the readings in the order of the columns, each with its named
// definitions behind it where they are asked for.
func (m *measurer) emitAll() {
	definitions := result.Definitions()
	for _, c := range result.Columns {
		if m.has(c.Key) || !c.Given {
			m.emit(c.Key, c.Unit)
		}
		for _, role := range m.r.branches() {
			if key := c.Key + "." + string(role); m.has(key) {
				m.emit(key, c.Unit)
			}
		}
		energy := c.Key == "e_off" || c.Key == "e_on"
		if !m.opt.AllDefinitions && !(m.opt.AllWindows && energy) {
			continue
		}
		for _, d := range definitions {
			key := d.Key + "." + d.Name
			_, column := result.ColumnOf(key)
			if _, ok := m.read[key]; ok && d.Key == c.Key && !column {
				m.emit(key, c.Unit)
			}
		}
	}
}

func (m *measurer) has(key string) bool {
	_, ok := m.read[key]
	return ok
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
		Dominant: uncertainty.Dominant(q.budget), Corrected: q.corrected, PerDelay: q.perDelay, PerRing: q.perRing, Delay: q.delay, Budget: q.budget, MonteCarlo: q.monteCarlo, Drawing: m.drawing(key, q), Warnings: q.warnings})
}

// absent gives the same reason to all quantities of an edge that cannot be
// measured.
func (m *measurer) absent(kind result.Edge, w *waveform.Warning) {
	for _, c := range result.Columns {
		if c.Edge == kind && !c.Given {
			m.setMissing(c.Key, w)
		}
	}
	for _, d := range result.Definitions() {
		if c, _ := result.FindColumn(d.Key); c.Edge == kind && !c.Given && m.wants(d.Key, d.Name) {
			m.setMissing(d.Key+"."+d.Name, w)
		}
	}
	for _, win := range m.windows(kind) {
		m.setMissing(energyKey(kind)+"."+win.Name, w)
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
		if !slices.ContainsFunc(m.r.events, func(ev result.Event) bool { return ev.Pulse != 0 }) {
			text = fmt.Sprintf("the %s of pulse %d cannot be told: the record begins under load or holds one edge, so which pulses are in it is not known; leave the number out, and the first turn-off and the turn-on behind it are measured", kind, asked)
		}
	}
	return &waveform.Warning{Code: waveform.NotInRecord, Text: text}
}

// level reads a settled level of a channel.
func level(role result.Role, tr *waveform.Trace, s state, def string) reading {
	q := reading{value: s.level, form: levelForm, over: s.over, def: def}
	if math.IsNaN(s.level) {
		q.over = nowhere
		q.warn(cmp.Or(lost(role, tr, s.over, "its level at rest"),
			&waveform.Warning{Code: waveform.NotInRecord, Channel: string(role), Over: s.over, Text: fmt.Sprintf("the record holds no stretch in which %s is at rest there", role)}))
	}
	return q
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
		if w.Duration <= 0 && w.Rule == result.FirstEnd && w.Tail == 0 {
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

// zeroEffect completes the correction of the zero with what it does to the
// energies: -zero · ∫v dt over the window.
func (m *measurer) zeroEffect() {
	for k := range m.shot.Corrections {
		c := &m.shot.Corrections[k]
		if c.Channel != result.Id || c.Kind != "zero" && c.Kind != "zero-kept" {
			continue
		}
		c.EOff = -m.zero.level * waveform.Integral(m.r.v, m.read["e_off"].over)
		c.EOn = -m.zero.level * waveform.Integral(m.r.v, m.read["e_on"].over)
	}
}

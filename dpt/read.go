package dpt

import (
	"fmt"
	"maps"
	"math"

	"slewbook/dpt/result"
	"slewbook/waveform"
)

// edgeQuantities reads the quantities of the edge that was picked for a kind.
func (m *measurer) edgeQuantities(kind result.Edge, e *edge, asked int, window string) {
	if e == nil {
		m.absent(kind, m.notInRecord(kind, asked))
		return
	}
	none := e.noLoad(m.full)
	e.idle = none != nil
	q := m.readEdge(e)
	maps.Copy(m.read, q)
	e.inputs = m.sources(e)
	m.budget(e, q)
	if e.idle {
		m.absent(kind, none)
		return
	}
	m.gateAt(e)
	m.phases(e)
	m.ringing(e)
	m.perRing(e)
	if m.opt.Drawings {
		m.sweep(e)
	}
	m.mark(e, window)
}

// readEdge reads all quantities of an edge; of an idle one those of the voltage only. It
// depends on the edge alone, so that it can be asked again about an edge that is moved a
// little.
func (m *measurer) readEdge(e *edge) map[string]reading {
	q := map[string]reading{}
	if e.kind == result.TurnOff {
		m.readTurnOff(e, q)
	} else {
		m.readTurnOn(e, q)
	}
	if !e.idle {
		m.readEnergies(e, q)
	}
	m.readNamed(e, q)
	m.choose(e.kind, q)
	return q
}

func (m *measurer) readTurnOff(e *edge, q map[string]reading) {
	q["v_bus_off"] = e.settled(level(result.Vds, e.v, e.bus, "level at rest after the turn-off, "+string(m.opt.Level)))
	q["v_peak"] = e.peak(result.Vds, e.search, "largest sample up to the next event")
	q["v_overshoot"] = ratio(q["v_peak"], q["v_bus_off"])
	rise := e.duration(v(10), v(90))
	q["t_rise_v"] = rise
	q["dvdt_off"] = average(rise, e.bus.level, 80)
	q["dvdt_off_max"] = e.steepest(result.Vds, rise)
	if e.idle {
		return
	}
	q["i_off"] = e.loadCurrent()
	q["td_off"] = e.duration(g(90), v(10))
	if m.opt.Device == IGBT {
		q["td_off"] = e.duration(g(90), i(90))
	}
	q["t_off"] = e.duration(g(90), v(90))
	if m.opt.Device == IGBT {
		q["t_off"] = e.duration(g(90), i(10))
	}
	fall := e.duration(i(90), i(10))
	q["t_fall_i"] = fall
	q["didt_off"] = average(fall, e.load, 80)
	q["didt_off_max"] = e.steepest(result.Id, fall)
	e.partnerOff(q)
}

func (m *measurer) readTurnOn(e *edge, q map[string]reading) {
	q["v_bus_on"] = level(result.Vds, e.v, e.bus, "level at rest before the turn-on, "+string(m.opt.Level))
	fall := e.duration(v(90), v(10))
	if !e.idle {
		q["i_on"] = e.loadCurrent()
		q["td_on"] = e.duration(g(10), v(90))
		if m.opt.Device == IGBT {
			q["td_on"] = e.duration(g(10), i(10))
		}
		q["t_on"] = e.duration(g(10), v(10))
		if m.opt.Device == IGBT {
			q["t_on"] = e.duration(g(10), i(90))
		}
		rise := e.duration(i(10), i(90))
		q["t_rise_i"] = rise
		q["didt_on"] = average(rise, e.load, 80)
		q["didt_on_max"] = e.steepest(result.Id, rise)
		q["i_peak"] = e.currentPeak()
		q["i_overshoot"] = ratio(q["i_peak"], q["i_on"])
		e.recovery(q)
		e.partnerOn(q)
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
	slope.form = slopeForm
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
	q := reading{value: e.load, form: levelForm, over: e.line.over, def: "load line continued to when " + instant}
	line, t := e.line, e.search.From
	q.draw = func(d *result.Drawing) {
		over := waveform.Interval{From: min(line.over.From, t), To: max(line.over.To, t)}
		d.Lines = append(d.Lines, result.Construction{Role: result.Id, Trace: sampled("load line", over, 50, line.at)})
	}
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

// settleTol is how far the two halves of the gap's end may differ, relative to the bus: a
// level that is still on its way so fast has as much to go again, and more.
const settleTol = 0.006

// settled warns where the voltage does not come to rest after the turn-off
// within what is left of the record.
func (e *edge) settled(q reading) reading {
	late := part(e.bus.over, 0.5, 1)
	early := part(e.bus.over, 0, 0.5)
	a, b := waveform.Mean(e.v.Samples(early)), waveform.Mean(e.v.Samples(late))
	spread := waveform.StdDev(e.v.Samples(late))
	if math.Abs(a-b) > settleTol*math.Abs(b) || spread > 0.03*math.Abs(b) {
		q.warn(&waveform.Warning{Code: waveform.SettleShort, Channel: string(result.Vds), Over: e.bus.over,
			Text: fmt.Sprintf("the voltage is not at rest there: its two halves differ by %.3g V, and it rings with %.3g V (standard deviation)", math.Abs(a-b), spread)})
	}
	return q
}

// ratio is (a - b)/b on the interval of a.
func ratio(a, b reading) reading {
	q := reading{value: (a.value - b.value) / b.value, form: a.form, role: a.role, per: 1 / b.value, over: a.over, def: "relative to the base"}
	if math.IsNaN(q.value) {
		q.over = nowhere
		q.warn(firstWarning(a), firstWarning(b))
	}
	return q
}

// readEnergies reads the energy in the windows that are asked for, the listed ones
// in any case.
func (m *measurer) readEnergies(e *edge, q map[string]reading) {
	for _, w := range m.windows(e.kind) {
		r := e.energy(w)
		r.warn(e.energySampling(r)...)
		q[energyKey(e.kind)+"."+w.Name] = r
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

package dpt

import (
	"fmt"

	"slewbook/dpt/result"
	"slewbook/waveform"
	"slewbook/waveform/unit"
)

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
	if m.on = pick(ons, m.opt.PulseOn, 2); m.opt.PulseOn == 0 && m.on != nil && m.on.pulse == 0 && m.off != nil {
		m.on = follows(m.off, ons)
	}
	if pulses := max(len(offs), len(ons)); pulses < 2 {
		has := fmt.Sprintf("%d turn-off and %d turn-on", len(offs), len(ons))
		if len(offs) == 1 && len(ons) == 1 && ons[0].index == 0 && ons[0].pulse == 1 {
			has += ", of a pulse that no second one follows"
		}
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

// follows returns the turn-on behind a turn-off; where the record holds none, the first.
func follows(off *edge, ons []*edge) *edge {
	for _, e := range ons {
		if e.index > off.index {
			return e
		}
	}
	return ons[0]
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

package main

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"math"
	"slices"

	"slewbook/dpt"
	"slewbook/dpt/campaign"
	"slewbook/dpt/result"
	"slewbook/dpt/uncertainty"
	"slewbook/waveform"
	"slewbook/waveform/format"
)

// shotSource is what a shot is measured from: a capture, or by the shot list one
// for each edge.
type shotSource struct {
	format.Source
	on   *format.Source // of the turn-on, nil where it is in the same capture
	lost string         // what the list names for it and is not there
}

// pairs makes the sources of shots: those that the list names for a turn-on go to
// the shot they belong to.
func pairs(sources []format.Source, list *campaign.List) []shotSource {
	byName := map[string]int{}
	for k, s := range sources {
		byName[s.Name] = k
	}
	taken := map[string]bool{}
	out := make([]shotSource, 0, len(sources))
	for _, s := range sources {
		pair := shotSource{Source: s}
		if e := list.Find(s.Name); e != nil && e.On != "" && e.On != s.Name {
			if k, ok := byName[e.On]; ok {
				pair.on = &sources[k]
				taken[e.On] = true
			} else {
				pair.lost = e.On
			}
		}
		out = append(out, pair)
	}
	return slices.DeleteFunc(out, func(p shotSource) bool { return taken[p.Name] })
}

// Sums hashes all files.
func (s shotSource) Sums() ([]string, error) {
	sums, err := s.Source.Sums()
	if err != nil || s.on == nil {
		return sums, err
	}
	more, err := s.on.Sums()
	return append(sums, more...), err
}

// Content identifies what is measured.
func (s shotSource) Content(sums []string) string {
	if s.on == nil {
		return s.Source.Content(sums)
	}
	sum := sha256.Sum256(fmt.Appendf(nil, "%s %s", s.Source.Content(sums), s.on.Content(sums)))
	return hex.EncodeToString(sum[:16])
}

// both measures the two captures of a joined shot. Its figures are those of the
// turn-off's capture.
func (r *measureRun) both(s shotSource) []measured {
	ms := measureSource(read(s.Source), r.opt, r.plan, r.folder, &r.out.overlay)
	if s.lost != "" {
		for _, m := range ms {
			m.shot.Err = errors.Join(m.shot.Err, fmt.Errorf("the list takes the turn-on from %q, which is not among the captures", s.lost))
		}
	}
	if s.on == nil {
		return ms
	}
	on := measureSource(read(*s.on), r.opt, campaign.Plan{}, nil, &overlayFlags{})
	if len(ms) != 1 || len(on) != 1 {
		err := fmt.Errorf("%s holds %d captures and %s %d; expected one of each for one shot", s.Name, len(ms), s.on.Name, len(on))
		for _, m := range ms {
			m.shot.Err = errors.Join(m.shot.Err, err)
		}
		return ms
	}
	ms[0].shot = joined(ms[0].shot, on[0].shot)
	return ms
}

// joined is the shot of which off holds the turn-off and on the turn-on. Times are
// on the axis of the capture that they were read from.
func joined(off, on *result.Shot) *result.Shot {
	s := *off
	s.Files = append(slices.Clone(off.Files), on.Files...)
	s.SHA256 = append(slices.Clone(off.SHA256), on.SHA256...)
	s.Channels = append(slices.Clone(off.Channels), on.Channels...)
	s.Warnings = nil
	if on.Err != nil {
		s.Err = errors.Join(off.Err, fmt.Errorf("%s, for the turn-on: %w", on.Capture, on.Err))
	}
	s.Events = append(eventsOf(off, result.TurnOff), eventsOf(on, result.TurnOn)...)
	s.Quantities = joinedQuantities(off, on)
	if m := s.Quantity("e_tot"); m != nil {
		w := edgesDiffer(&s)
		if w != nil {
			s.Warnings = append(s.Warnings, *w)
		}
		*m = total(s.Quantity("e_on"), s.Quantity("e_off"), *m, w)
	}
	s.Corrections = append(slices.Clone(off.Corrections), on.Corrections...)
	for _, w := range append(slices.Clone(off.Warnings), on.Warnings...) {
		if w.Code != waveform.SingleEdge { // the other edge is in the other capture
			s.Warnings = append(s.Warnings, w)
		}
	}
	return &s
}

// Quantities of a joined shot that belong to no edge: of the first the worst of both
// captures counts (the largest, -1: the smallest), the second are the turn-on's.
var (
	worstOf = map[string]float64{"v_max": 1, "i_max": 1, "vgs_max": 1, "vgs_min": -1, "t_vgs_above": 1, "t_vgs_below": 1,
		"t_vgs_above_dynamic": 1, "t_vgs_below_dynamic": 1, "vgs_other_max": 1, "vgs_other_min": -1, "vgs_other_margin": -1}
	turnOns = map[string]bool{"e_on_channel": true, "e_drive": true, "l_loop": true, "l_loop_bare": true}
)

// joinedQuantities takes each quantity from the capture that it belongs to; what belongs
// to none, and only one could tell, from that.
func joinedQuantities(off, on *result.Shot) []result.Measurement {
	var all []result.Measurement
	for _, m := range append(slices.Clone(off.Quantities), on.Quantities...) {
		if slices.ContainsFunc(all, func(had result.Measurement) bool { return had.Key == m.Key }) {
			continue
		}
		a, b := off.Quantity(m.Key), on.Quantity(m.Key)
		c, _ := result.FindColumn(m.Key)
		switch way, worst := worstOf[c.Key]; {
		case c.Edge == result.TurnOff, c.Edge == "" && b == nil:
			b = nil
		case c.Edge == result.TurnOn, turnOns[c.Key], a == nil:
			a = nil
		case worst:
			all = append(all, worse(a, b, way, off.Capture, on.Capture))
			continue
		case math.IsNaN(a.Value):
			a = nil
		}
		if a == nil {
			a = b
		}
		if a != nil {
			all = append(all, *a)
		}
	}
	place := func(m result.Measurement) int {
		c, _ := result.FindColumn(m.Key)
		return slices.IndexFunc(result.Columns, func(d result.Column) bool { return d.Key == c.Key })
	}
	slices.SortStableFunc(all, func(a, b result.Measurement) int { return place(a) - place(b) })
	return all
}

// worse is the larger (way 1) or smaller (way -1) of two, which names its capture; it is
// not known where one of them is not.
func worse(a, b *result.Measurement, way float64, inA, inB string) result.Measurement {
	m, in := *a, inA
	if !math.IsNaN(a.Value) && !(way*b.Value <= way*a.Value) { // b, also where it is not known
		m, in = *b, inB
	}
	m.Definition += "; the worse of both captures, in " + in
	return m
}

// eventsOf lists the events of one kind, each with the capture on whose axis it stands.
func eventsOf(s *result.Shot, kind result.Edge) []result.Event {
	var events []result.Event
	for _, e := range s.Events {
		if e.Edge == kind {
			e.Capture = s.Capture
			events = append(events, e)
		}
	}
	return events
}

// edgesDiffer warns where the two edges of a joined shot were not taken at one voltage
// and current: they are further apart than the edges of one shot may be.
func edgesDiffer(s *result.Shot) *waveform.Warning {
	for _, pair := range []struct {
		off, on string
		far     float64
	}{{"v_bus_off", "v_bus_on", dpt.EdgesApartV}, {"i_off", "i_on", dpt.EdgesApartI}} {
		a, b := s.Quantity(pair.off), s.Quantity(pair.on)
		if a == nil || b == nil {
			continue
		}
		if uncertainty.EdgesApart(uncertainty.Result{Value: a.Value, Edge: "off", Budget: a.Budget}, uncertainty.Result{Value: b.Value, Edge: "on", Budget: b.Budget}, pair.far) {
			return &waveform.Warning{Code: waveform.EdgesDiffer,
				Text: fmt.Sprintf("%s is %.4g %s in %s and %s is %.4g %s in %s, more than %.0f %% and their uncertainty apart: the two edges are not of one shot, and e_off + e_on is the energy of none",
					pair.off, a.Value, a.Unit, s.Events[0].Capture, pair.on, b.Value, b.Unit, s.Events[len(s.Events)-1].Capture, 100*pair.far)}
		}
	}
	return nil
}

// total is e_tot of two captures: what their budgets name alike is shared. It is not
// known where unlike tells that they are not of one shot.
func total(on, off *result.Measurement, m result.Measurement, unlike *waveform.Warning) result.Measurement {
	m.Value, m.U, m.PerDelay, m.Budget, m.Dominant, m.Warnings = math.NaN(), math.NaN(), 0, nil, "", nil
	m.Over = waveform.Interval{From: math.NaN(), To: math.NaN()} // there is no axis that both are on
	switch {
	case unlike != nil:
		m.Warnings = []waveform.Warning{*unlike}
		return m
	case on == nil || off == nil:
		return m
	}
	m.Warnings = append(slices.Clone(on.Warnings), off.Warnings...)
	m.Value, m.PerDelay = on.Value+off.Value, on.PerDelay+off.PerDelay
	if !math.IsNaN(m.Value) && on.Budget != nil && off.Budget != nil {
		m.Budget = uncertainty.SumOfEdges(on.Budget, off.Budget)
		m.U, m.Dominant = uncertainty.Total(m.Budget), uncertainty.Dominant(m.Budget)
	}
	return m
}

package main

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"math"
	"slices"

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
	if on.Err != nil {
		s.Err = errors.Join(off.Err, fmt.Errorf("%s, for the turn-on: %w", on.Capture, on.Err))
	}
	isOn := func(key string) bool { c, ok := result.FindColumn(key); return ok && c.Edge == result.TurnOn }
	s.Quantities = nil
	for _, m := range off.Quantities {
		if !isOn(m.Key) {
			s.Quantities = append(s.Quantities, m)
			continue
		}
		if found := on.Quantity(m.Key); found != nil {
			s.Quantities = append(s.Quantities, *found)
		}
	}
	if m := s.Quantity("e_tot"); m != nil {
		*m = total(s.Quantity("e_on"), s.Quantity("e_off"), *m)
	}
	s.Events = slices.DeleteFunc(slices.Clone(off.Events), func(e result.Event) bool { return e.Edge == result.TurnOn })
	for _, e := range on.Events {
		if e.Edge == result.TurnOn {
			s.Events = append(s.Events, e)
		}
	}
	s.Corrections = append(slices.Clone(off.Corrections), on.Corrections...)
	s.Warnings = nil
	for _, w := range append(slices.Clone(off.Warnings), on.Warnings...) {
		if w.Code != waveform.SingleEdge { // the other edge is in the other capture
			s.Warnings = append(s.Warnings, w)
		}
	}
	return &s
}

// total is e_tot of two captures: what their budgets name alike is shared.
func total(on, off *result.Measurement, m result.Measurement) result.Measurement {
	m.Value, m.U, m.Budget, m.Dominant, m.Warnings = math.NaN(), math.NaN(), nil, "", nil
	if on == nil || off == nil {
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

package dpt

import (
	"fmt"
	"math"

	"slewbook/dpt/result"
	"slewbook/waveform"
)

// Look says what a capture holds and measures nothing: its channels, which
// roles they were given, how that was decided and how sure it is, and what
// raises doubts.
func Look(c *waveform.Capture, opt Options) result.Look {
	look := result.Look{Capture: c.Name, Files: c.Files, Layout: c.Layout, Segments: c.Segments,
		Header: c.Header, Warnings: append([]waveform.Warning(nil), c.Warnings...)}
	if look.Err = c.Check(); look.Err != nil {
		return look
	}
	first := describe(c.Traces[0])
	look.Points, look.T0, look.Dt = first.Points, first.T0, first.Dt
	sources := map[result.Role]string{}
	for role, ch := range opt.Channels {
		sources[role] = ch.Source
	}
	roles, err := assignRoles(c, sources)
	if err != nil {
		look.Warnings = append(look.Warnings, waveform.Warning{Code: waveform.RoleGuess, Text: err.Error()})
	}
	for _, tr := range c.Traces {
		ch := describe(tr)
		for _, a := range roles {
			if a.trace == tr {
				ch.Role, ch.Basis, ch.Sure = a.role, a.basis, a.sure
				if err := a.unscaled(opt.Channels[a.role]); err != nil {
					look.Warnings = append(look.Warnings, waveform.Warning{Code: waveform.ScaleSuspect, Channel: tr.Name, Text: err.Error()})
				}
			}
		}
		look.Channels = append(look.Channels, ch)
		if _, w := believed(tr, opt.Channels[ch.Role].Filter); w != nil {
			look.Warnings = append(look.Warnings, *w)
		}
	}
	if w := contradiction(c, opt); w != nil {
		look.Warnings = append(look.Warnings, *w)
	}
	return look
}

// contradiction tests the roles against physics, where the capture has the main
// ones and the record shows an edge. A capture that is no double pulse is no
// contradiction: that is for measuring to say.
func contradiction(c *waveform.Capture, opt Options) *waveform.Warning {
	r, err := newRecord(c, opt, &result.Shot{})
	if err != nil {
		return nil
	}
	if err := r.farOff(); err != nil {
		return &waveform.Warning{Code: waveform.ScaleSuspect, Text: err.Error()}
	}
	found := r.findEvents()
	if err := r.swapped(); err != nil {
		return &waveform.Warning{Code: waveform.Polarity, Text: err.Error()}
	}
	if found != nil {
		return nil
	}
	return r.polarity(opt.Level)
}

// describe reads the plain facts of a trace.
func describe(tr *waveform.Trace) result.Channel {
	ch := result.Channel{Name: tr.Name, Unit: tr.Unit, First: tr.Y[0], Last: tr.Y[len(tr.Y)-1],
		Min: math.NaN(), Max: math.NaN(), Points: tr.Len(), T0: tr.T0, Dt: tr.Dt}
	for _, y := range tr.Y {
		switch {
		case y >= ch.Min && y <= ch.Max:
		case math.IsInf(y, 0):
			ch.OverRange++
		case math.IsNaN(y):
		default:
			if !(ch.Min <= y) {
				ch.Min = y
			}
			if !(ch.Max >= y) {
				ch.Max = y
			}
		}
	}
	if r := tr.Recorded; r.Points > 1 {
		// What the capture holds, not what was made of it for measuring.
		ch.Dt = tr.Span().Duration() / float64(r.Points-1)
		ch.Points, ch.Min, ch.Max, ch.OverRange = r.Points, r.Min, r.Max, r.OverRange
	}
	return ch
}

// doubt warns where a role was not decided by the set-up or a plain name.
func (a assignment) doubt() *waveform.Warning {
	if a.sure >= 0.9 {
		return nil
	}
	return &waveform.Warning{Code: waveform.RoleGuess, Channel: a.trace.Name,
		Text: fmt.Sprintf("trace %q is taken for %s: %s; say so in a set-up file", a.trace.Name, a.role, a.basis)}
}

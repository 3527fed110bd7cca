package dpt

import (
	"errors"
	"fmt"
	"maps"
	"math"
	"slices"

	"slewbook/dpt/condition"
	"slewbook/dpt/result"
	"slewbook/waveform"
)

// Measure reads every quantity of one capture. The shot is returned in any
// case, with its identity and whatever was found; its Err says why it was
// refused, which the error repeats. Options must be valid.
func Measure(c *waveform.Capture, opt Options) (result.Shot, error) {
	shot := result.Shot{
		Capture:    c.Name,
		Files:      c.Files,
		SHA256:     c.SHA256,
		Conditions: opt.Conditions,
		Version:    opt.Version,
		Settings:   opt.Hash(),
		Bench:      opt.bench(),
		Warnings:   append([]waveform.Warning(nil), c.Warnings...),
	}
	shot.Err = measure(c, opt.simulated(c), &shot)
	if opt.Device == IGBT {
		inIGBTWords(&shot)
	}
	return shot, shot.Err
}

func measure(c *waveform.Capture, opt Options, shot *result.Shot) error {
	if err := c.Check(); err != nil {
		return err
	}
	r, err := newRecord(c, opt, shot)
	if err != nil {
		return err
	}
	if err := r.farOff(); err != nil {
		return err
	}
	found := r.findEvents()
	if found != nil {
		if w := r.shortCircuit(); w != nil {
			shot.Warnings = append(shot.Warnings, *w)
			return errors.New(w.Text)
		}
	}
	if err := r.swapped(); err != nil {
		return err
	}
	if found != nil {
		return found
	}
	for _, look := range []func(waveform.LevelMethod) *waveform.Warning{r.unclamped, r.polarity, r.faultUnderLoad} {
		w := look(opt.Level)
		if w == nil {
			continue
		}
		shot.Warnings = append(shot.Warnings, *w)
		return errors.New(w.Text)
	}
	r.takeDroop(opt, shot)
	zero, drift := r.takeZero(opt, shot)
	m := &measurer{r: r, opt: opt, shot: shot, zero: zero, drift: drift, delays: r.alignChannels(opt, shot)}
	m.run()
	shot.Events = r.events
	m.zeroEffect()
	shot.Traces = map[result.Role]*waveform.Trace{result.Vds: r.v, result.Id: r.i}
	if r.g != nil {
		shot.Traces[result.Vgs] = r.g
	}
	maps.Copy(shot.Traces, r.other)
	m.correctionEffects()
	return nil
}

// newRecord gives roles to the traces and applies what the set-up says.
func newRecord(c *waveform.Capture, opt Options, shot *result.Shot) (*record, error) {
	sources := map[result.Role]string{}
	for role, ch := range opt.Channels {
		sources[role] = ch.Source
	}
	roles, err := assignRoles(c, sources)
	if err != nil {
		return nil, err
	}
	r := &record{other: map[result.Role]*waveform.Trace{}, bandwidth: map[result.Role]float64{}, quantum: map[result.Role]float64{}}
	raw := map[result.Role]*waveform.Trace{}
	for _, a := range roles {
		if w := a.doubt(); w != nil {
			shot.Warnings = append(shot.Warnings, *w)
		}
		raw[a.role] = a.trace
		shot.Channels = append(shot.Channels, recording(a, opt.Channels))
		var w *waveform.Warning
		if a.trace, w = believed(a.trace, opt.Channels[a.role].Filter); w != nil {
			shot.Warnings = append(shot.Warnings, *w)
		}
		tr, err := r.correct(a, opt, shot)
		if err != nil {
			return nil, err
		}
		switch a.role {
		case result.Vds:
			r.v = tr
		case result.Id:
			r.i = tr
		case result.Vgs:
			r.g = tr
		default:
			r.other[a.role] = tr
		}
	}
	shot.Raw = raw
	r.sumBranches(shot)
	for _, need := range []struct {
		role result.Role
		tr   *waveform.Trace
	}{{result.Vds, r.v}, {result.Id, r.i}} {
		if need.tr == nil {
			return nil, fmt.Errorf("no trace could be given the role %s; the capture has %s; name the trace with channel.%s.source in a set-up file",
				need.role, quotedNames(c), need.role)
		}
		if ch := describe(need.tr); !(ch.Max > ch.Min) {
			return nil, fmt.Errorf("%s (trace %q) never moves: its %d samples hold one value or no number at all", need.role, need.tr.Name, ch.Points)
		}
	}
	if r.span().Duration() <= 0 {
		return nil, fmt.Errorf("the traces of vds and id have no stretch of time in common")
	}
	return r, r.matchBandwidth(opt, shot)
}

// takeZero takes the zero off the current unless it is to be kept, and returns it,
// its level NaN if there is none, with its drift later in the record.
func (r *record) takeZero(opt Options, shot *result.Shot) (z state, drift float64) {
	var w *waveform.Warning
	z, drift, w = r.zero(opt.Level, opt.ZeroOver)
	if w != nil {
		shot.Warnings = append(shot.Warnings, *w)
		return z, drift
	}
	text := fmt.Sprintf("zero of id read from %s to %s", at(z.over.From), at(z.over.To))
	if !math.IsNaN(drift) {
		text += fmt.Sprintf("; in the last other blocking stretch it is %.3g A off that", drift)
	}
	kind := "zero"
	if opt.KeepZero {
		kind, text = "zero-kept", text+"; left in, as asked"
	} else {
		r.i = condition.Zero(r.i, z.level, z.over)
		r.otherZeros(opt.Level, z.over, shot)
	}
	shot.Corrections = append(shot.Corrections, result.Correction{Channel: result.Id, Kind: kind, Value: z.level, Unit: "A",
		Over: z.over, EOn: math.NaN(), EOff: math.NaN(), Text: text})
	return z, drift
}

// otherZeros takes the zero off the other currents, read where that of id was, if no
// current has flowed by then.
func (r *record) otherZeros(method waveform.LevelMethod, over waveform.Interval, shot *result.Shot) {
	if r.conducts(0) || over.To > r.moves[0].T {
		return
	}
	for _, role := range slices.Sorted(maps.Keys(r.other)) {
		tr := r.other[role]
		level := waveform.Level(tr.Samples(over), method)
		if role.Unit() != "A" || math.IsNaN(level) {
			continue
		}
		r.other[role] = condition.Zero(tr, level, over)
		shot.Corrections = append(shot.Corrections, result.Correction{Channel: role, Kind: "zero", Value: level, Unit: "A", Over: over, EOn: math.NaN(), EOff: math.NaN(),
			Text: fmt.Sprintf("zero of %s read from %s to %s", role, at(over.From), at(over.To))})
	}
}

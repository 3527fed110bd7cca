package dpt

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"slewbook/dpt/result"
	"slewbook/waveform"
)

// lost tells of the first sample of a trace in a stretch that is over range or missing,
// with what was to be read there; nil where there is none.
func lost(role result.Role, tr *waveform.Trace, iv waveform.Interval, what string) *waveform.Warning {
	lo, hi := tr.Indices(iv)
	for k := lo; k < hi; k++ {
		if notFinite(tr.Y[k]) {
			return &waveform.Warning{Code: waveform.ClippedWindow, Channel: string(role), Over: iv,
				Text: fmt.Sprintf("%s is over range or missing at %s, where %s is read", role, at(tr.Time(k)), what)}
		}
	}
	return nil
}

// finite returns the samples that are neither over range nor missing.
func finite(y []float64) []float64 {
	if !slices.ContainsFunc(y, notFinite) {
		return y
	}
	return slices.DeleteFunc(slices.Clone(y), notFinite)
}

// lostShare is the part of the samples of a state that may be missing: its level is that
// of the others, since what is missing at rest is missing by no fault of the level.
const lostShare = 0.01

// known returns the samples of a state at rest without the missing ones, if these are few;
// over-range ones, which are where the level may be, stay.
func known(y []float64) []float64 {
	missing := 0
	for _, v := range y {
		if math.IsNaN(v) {
			missing++
		}
	}
	if missing == 0 || float64(missing) > lostShare*float64(len(y)) {
		return y
	}
	return slices.DeleteFunc(slices.Clone(y), math.IsNaN)
}

// noBus tells why the edge has no bus voltage.
func (e *edge) noBus() *waveform.Warning {
	return cmp.Or(lost(result.Vds, e.v, e.bus.over, "the bus voltage"),
		&waveform.Warning{Code: waveform.NotInRecord, Channel: string(result.Vds), Over: e.bus.over, Text: "there is no stretch in which the voltage is at rest beside the edge, to read that of the bus"})
}

// noCurrent tells why the edge has no load current: what its load line was fitted on or
// continued through is not known, or the instant at which it counts is not.
func (e *edge) noCurrent() *waveform.Warning {
	if math.IsNaN(e.bus.level) {
		return e.noBus()
	}
	const what = "the load's ramp"
	if w := cmp.Or(lost(result.Id, e.i, e.line.over, what), lost(result.Vds, e.v, e.line.over, what)); w != nil {
		return w
	}
	if e.line.line.N < 2 {
		return &waveform.Warning{Code: waveform.NotInRecord, Channel: string(result.Id), Over: e.line.over, Text: "the record holds no stretch of the load's ramp beside the edge"}
	}
	t, w := e.crossing(v(50))
	if w != nil {
		return w
	}
	return cmp.Or(lost(result.Vds, e.v, waveform.Interval{From: min(e.line.over.To, t), To: max(e.line.over.From, t)}, "the voltage that the load sees up to the edge"),
		&waveform.Warning{Code: waveform.NotInRecord, Channel: string(result.Id), Over: e.search, Text: fmt.Sprintf("the load current at this %s could not be read", e.kind)})
}

// noGate tells why the edge has no settled levels of the gate.
func (e *edge) noGate() *waveform.Warning {
	for _, s := range e.gateRest {
		if w := lost(result.Vgs, e.g, s.over, "a settled level of the gate"); w != nil {
			return w
		}
	}
	return &waveform.Warning{Code: waveform.NotInRecord, Channel: string(result.Vgs), Over: e.gate, Text: "the gate does not come to rest on both sides of the edge"}
}

// noLevel tells why a limit stands for no value.
func (e *edge) noLevel(l result.Limit) *waveform.Warning {
	switch l.Signal {
	case result.Vds, result.VOther:
		return e.noBus()
	case result.Id, result.IOther:
		return e.noCurrent()
	}
	return e.noGate()
}

package dpt

import (
	"testing"

	"slewbook/dpt/result"
	"slewbook/waveform"
)

// Reading is what was read under one key, under whatever definition.
type Reading struct {
	Value, U float64
	Warnings []waveform.Warning
}

// Readings measures a capture and returns everything that was read, the
// definitions that no table shows included.
func Readings(t *testing.T, c *waveform.Capture, opt Options) map[string]Reading {
	t.Helper()
	shot := &result.Shot{}
	r, err := newRecord(c, opt, shot)
	if err == nil {
		err = r.findEvents()
	}
	if err != nil {
		t.Fatal(err)
	}
	zero, drift := r.takeZero(opt, shot)
	m := &measurer{r: r, opt: opt, shot: shot, zero: zero, drift: drift, delays: r.alignChannels(opt, shot)}
	m.run()
	all := map[string]Reading{}
	for key, q := range m.read {
		all[key] = Reading{q.value, q.u, q.warnings}
	}
	return all
}

// WithoutU returns the options with which no reading is given an uncertainty.
func WithoutU(o Options) Options {
	o.withoutU = true
	return o
}

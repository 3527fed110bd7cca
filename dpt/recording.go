package dpt

import (
	"math"
	"time"

	"slewbook/dpt/result"
)

// recording tells how a role was recorded: the trace as the file has it, and what the
// set-up states of its channel.
func recording(a assignment, channels map[result.Role]Channel) result.Recording {
	r := result.Recording{Role: a.role, Trace: a.trace.Name, Points: len(a.trace.Y), Dt: a.trace.Dt, Bandwidth: math.NaN(), Range: math.NaN()}
	if ch, ok := channels[a.role]; ok {
		r.Bandwidth, r.Bits = ch.Bandwidth, ch.Bits
		if ch.Range > 0 {
			r.Range = ch.Range
		}
		r.Calibrated, r.Due = day(ch.Calibrated), day(ch.Due)
	}
	return r
}

// day writes a date, "" for none.
func day(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return t.Format(time.DateOnly)
}

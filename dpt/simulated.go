package dpt

import (
	"fmt"
	"math"

	"slewbook/dpt/condition"
	"slewbook/dpt/result"
	"slewbook/waveform"
)

// Simulated says that captures are of a simulation, and what is done to them.
type Simulated string

// What becomes of simulated traces. Scale, sign, offset and delay of the set-up, which
// undo what a channel has done, are left out, gains and zeros are exact.
const (
	Recorded Simulated = ""       // they are no simulation
	Probed   Simulated = "probed" // slowed to the bandwidth that the set-up states of the channel
	Bare     Simulated = "bare"   // left as they are
)

// simulated returns the options by which a capture of a simulation is measured: channels
// that have done nothing to the signal but, where that is asked for, slowed it. Sources
// that the capture does not have are the recorded ones'.
func (o Options) simulated(c *waveform.Capture) Options {
	if o.Simulated == Recorded {
		return o
	}
	channels := map[result.Role]Channel{}
	for _, role := range append(result.SetupRoles(), result.Roles...) {
		stated, ok := o.Channels[role]
		ch := Channel{Channel: condition.AsRead(), Bandwidth: math.NaN(), Exact: true}
		if ok {
			ch.Filter = stated.Filter
			if c.Trace(stated.Source) != nil {
				ch.Source = stated.Source
			}
			if o.Simulated == Probed {
				ch.Probe = stated.Bandwidth
			}
		}
		channels[role] = ch
	}
	o.Channels = channels
	return o
}

// probe slows a simulated trace as its channel would have.
func (r *record) probe(role result.Role, tr *waveform.Trace, bandwidth float64, shot *result.Shot) (*waveform.Trace, error) {
	out, err := condition.Probe(tr, bandwidth)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", role, err)
	}
	if out == tr {
		shot.Corrections = append(shot.Corrections, result.Correction{Channel: role, Kind: condition.ProbeKind, Value: math.NaN(), Unit: "Hz", EOn: math.NaN(), EOff: math.NaN(),
			Text: fmt.Sprintf("simulated; samples of %.3g ns cannot show the %.4g MHz of the channel: nothing was done", tr.Dt*1e9, bandwidth*1e-6)})
		return tr, nil
	}
	return r.reshape(role, tr, out, shot), nil
}

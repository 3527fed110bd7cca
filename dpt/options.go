// Package dpt measures double-pulse tests. Measure takes a capture through the
// one path there is: roles, conditioning, events, zero, edges, quantities.
package dpt

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"

	"slewbook/dpt/condition"
	"slewbook/dpt/result"
	"slewbook/dpt/uncertainty"
	"slewbook/waveform"
)

// Device is the kind of device under test, which decides what the delays mean.
type Device string

// Kinds of devices.
const (
	MOSFET Device = "mosfet"
	IGBT   Device = "igbt"
)

// Align says what is done about the delay of the current channel.
type Align string

// Ways to deal with delays.
const (
	AlignOff     Align = "off"     // nothing is estimated
	AlignSuggest Align = "suggest" // the delay is estimated and reported; no number is moved
	AlignApply   Align = "apply"   // a delay that is sure is removed first
)

// Channel says which trace has a role, what is still to be applied to it, and
// what is known of the instrument; NaN (or no bits) where it is not.
type Channel struct {
	Source string // name of the trace in the file, "" to find it
	condition.Channel
	ScaleStated   bool    // Scale is known to make the samples the role's unit, though it be 1; any other is
	Bandwidth     float64 // -3 dB, of probe and scope together [Hz]
	GainU         float64 // standard uncertainty of the gain, relative
	OffsetU       float64 // standard uncertainty of the zero [unit]
	DelayU        float64 // standard uncertainty of Delay, against vds [s]
	Bits          int     // resolution of the converter, 0 where it is not known
	Range         float64 // full input range, peak to peak, NaN or 0 where it is not known [unit]
	Step          float64 // of the converter, where the set-up tells; 0 to see it from the samples [unit]
	GainBounded   bool    // the error of the gain is within ±√3·GainU, any value as likely as another; else it is normal
	OffsetBounded bool    // and that of the zero
	Traceable

	// Of a simulated trace; see Simulated.
	Exact bool    // gain, zero and delay have no error
	Probe float64 // bandwidth to which it is slowed, NaN or 0 for not at all [Hz]

	// Corrections of the sensor and filter; none at the zero value or NaN.
	ShuntR float64 // resistance of a shunt, by which the file has divided its voltage [ohm]
	ShuntL float64 // its inductance, to be taken out [H]
	Droop  float64 // time constant of the first-order droop of a coil or transformer, to be taken out; of id only [s]
	Filter string  // zero-phase filter, in the words of filters.Parse
}

// Options are all that shapes the numbers of a shot besides its capture.
type Options struct {
	Device     Device
	Channels   map[result.Role]Channel
	Conditions []result.Condition

	PulseOff   int    // pulse whose turn-off is measured; 0 for the first in the record
	PulseOn    int    // pulse whose turn-on is measured; 0 for the second pulse's
	WindowOff  string // name of the energy window at turn-off
	WindowOn   string // and at turn-on
	AllWindows bool   // report every named window as well

	Definitions    map[string]string // of quantities read in another way than by default: column and name
	AllDefinitions bool              // report every quantity under every named definition as well
	SpanFrom       float64           // lower voltage of the definition "span" [V]
	SpanTo         float64           // upper voltage of it [V]; 0 for none

	OnDelay float64 // when the on-state is read after the turn-on [s]; 0 for 1 µs

	KeepZero bool                 // leave the zero of the current as it is
	ZeroOver waveform.Interval    // where to read it [s on the capture's axis]; NaN to find it
	Level    waveform.LevelMethod // how state levels are read

	Align          Align // what to do about delays between the channels
	MatchBandwidth bool  // slow the faster one of vds and id to the bandwidth of the slower

	CorrectBandwidth bool `json:",omitempty"` // take what the stated bandwidths have done out of the values

	Drawings bool `json:"-"` // leave how each quantity was read off in the result, for figures

	Given Given      // what the set-up tells of capacitances and inductances
	Gate  GateLimits // limits of the gate voltage

	Both bool `json:",omitempty"` // Positions tells which of the two devices of a record are measured

	Simulated Simulated `json:",omitempty"` // the captures are of a simulation

	MonteCarlo uncertainty.Simulation `json:",omitzero"`  // trials beside the budgets; none at the zero value
	Simulate   string                 `json:",omitempty"` // the one quantity that they are for, "" for all columns

	Version string `json:"-"` // of slewbook, for the result

	withoutU bool // give no reading an uncertainty, to tell what that costs
}

// Defaults returns the options that hold without a set-up file: a MOSFET, the
// turn-off of the first pulse from v 10 % to i 2 %, the turn-on of the second
// from i 10 % to v 2 %, the current's zero taken off.
func Defaults() Options {
	return Options{Device: MOSFET, WindowOff: "v10-i2", WindowOn: "i10-v2", ZeroOver: nowhere, Level: waveform.Shorth, Align: AlignSuggest}
}

// Validate tells what is wrong with the options.
func (o Options) Validate() error {
	if o.Device != MOSFET && o.Device != IGBT {
		return fmt.Errorf("device kind %q is not known; expected %q or %q", o.Device, MOSFET, IGBT)
	}
	if _, ok := result.FindWindow(o.WindowOff, result.TurnOff); !ok {
		return fmt.Errorf("no turn-off energy window is named %q; there are %s", o.WindowOff, result.WindowNames(result.TurnOff))
	}
	if _, ok := result.FindWindow(o.WindowOn, result.TurnOn); !ok {
		return fmt.Errorf("no turn-on energy window is named %q; there are %s", o.WindowOn, result.WindowNames(result.TurnOn))
	}
	if err := o.validateDefinitions(); err != nil {
		return err
	}
	if o.PulseOff < 0 || o.PulseOn < 0 {
		return fmt.Errorf("pulses are numbered from 1; got %d and %d", o.PulseOff, o.PulseOn)
	}
	if o.Align != AlignOff && o.Align != AlignSuggest && o.Align != AlignApply {
		return fmt.Errorf("alignment %q is not known; expected %q, %q or %q", o.Align, AlignOff, AlignSuggest, AlignApply)
	}
	if o.Simulated != Recorded && o.Simulated != Probed && o.Simulated != Bare {
		return fmt.Errorf("simulated captures are %q; expected %q or %q", o.Simulated, Probed, Bare)
	}
	if o.Level != waveform.Shorth && o.Level != waveform.HistogramMode {
		return fmt.Errorf("level method %q is not known; expected %q or %q", o.Level, waveform.Shorth, waveform.HistogramMode)
	}
	return o.validateChannels()
}

// SelectWindows sets the energy windows by name. A name that both edges know
// sets both.
func (o *Options) SelectWindows(names ...string) error {
	for _, name := range names {
		_, off := result.FindWindow(name, result.TurnOff)
		_, on := result.FindWindow(name, result.TurnOn)
		if !off && !on {
			return fmt.Errorf("no energy window is named %q; at turn-off there are %s; at turn-on %s",
				name, result.WindowNames(result.TurnOff), result.WindowNames(result.TurnOn))
		}
		if off {
			o.WindowOff = name
		}
		if on {
			o.WindowOn = name
		}
	}
	return nil
}

// words are all values of a channel in one text.
func (c Channel) words() string {
	stated := ""
	if c.ScaleStated && c.Scale == 1 {
		stated = " stated"
	}
	return fmt.Sprint(c.Channel, c.ShuntR, c.ShuntL, c.Droop, c.Bandwidth, c.GainU, c.OffsetU, c.DelayU, c.Bits, c.Range, c.Step, c.GainBounded, c.OffsetBounded, c.Traceable) + stated
}

// bench identifies the channels of a set-up that states how well they are known;
// "" where it does not, since then nothing says that two shots were taken with the
// same ones.
func (o Options) bench() string {
	known := false
	var words []string
	for _, role := range result.Roles {
		if ch, ok := o.Channels[role]; ok {
			known = known || ch.GainU > 0 || ch.OffsetU > 0
			words = append(words, string(role), ch.Source, ch.Filter, ch.words())
		}
	}
	if !known {
		return ""
	}
	return digest(words)
}

// Hash identifies all that shapes the numbers.
func (o Options) Hash() string {
	// Marshalling writes maps in the order of their keys; nothing in the
	// options can fail to marshal but a NaN, which JSON cannot hold.
	type channel struct {
		Source, Filter string
		Values         string
	}
	plain := o
	plain.Channels, plain.Conditions = nil, nil
	plain.ZeroOver = waveform.Interval{}
	channels := map[result.Role]channel{}
	for role, ch := range o.Channels {
		channels[role] = channel{ch.Source, ch.Filter, ch.words()}
	}
	return digest(struct {
		Options  Options
		Channels map[result.Role]channel
		ZeroOver string
	}{plain, channels, fmt.Sprint(o.ZeroOver)})
}

// digest is a short hash of what marshals to JSON.
func digest(v any) string {
	b, err := json.Marshal(v)
	if err != nil {
		panic("dpt: options do not marshal: " + err.Error())
	}
	sum := sha256.Sum256(b)
	return hex.EncodeToString(sum[:8])
}

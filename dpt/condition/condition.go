// Package condition makes a raw trace ready to be measured: it applies what the
// set-up says about the channel, takes out what the sensor did, filters, takes
// off the zero, and records each step on the trace. It never changes the trace
// it is given.
package condition

import (
	"fmt"
	"math"
	"slices"

	"slewbook/waveform"
)

// Channel says what is still to be applied to a trace.
type Channel struct {
	Scale    float64 // factor on the samples
	Invert   bool    // then change the sign
	Offset   float64 // then take this off [unit of the trace]
	Delay    float64 // lag of the channel: it reads x(t - Delay) [s]
	RangeMin float64 // samples at or below are over range, before scaling [unit]; NaN if not known
	RangeMax float64 // samples at or above likewise
}

// AsRead returns the channel to which nothing is to be applied.
func AsRead() Channel {
	return Channel{Scale: 1, RangeMin: math.NaN(), RangeMax: math.NaN()}
}

// Apply returns the trace with scale, inversion, offset and delay applied, in
// this order: y = ±Scale·y - Offset, t = t - Delay. The delay moves the time of
// the first sample and no sample, so that it changes no shape. Samples at the
// ends of a stated range become ±Inf. Samples that nothing is done to are shared.
func Apply(tr *waveform.Trace, ch Channel) *waveform.Trace {
	out := *tr
	out.Steps = slices.Clone(tr.Steps)
	step := func(kind string, value float64, unit, format string, args ...any) {
		out.Steps = append(out.Steps, waveform.Step{Kind: kind, Value: value, Unit: unit, Text: fmt.Sprintf(format, args...)})
	}
	clipRange(&out, ch)
	factor := ch.Scale
	if ch.Scale != 1 {
		step("scale", ch.Scale, "1", "multiplied by %g", ch.Scale)
	}
	if ch.Invert {
		factor = -factor
		step("invert", -1, "1", "sign changed")
	}
	if factor != 1 || ch.Offset != 0 {
		y := make([]float64, len(out.Y))
		for k := range y {
			y[k] = factor*out.Y[k] - ch.Offset
		}
		out.Y = y
	}
	if ch.Offset != 0 {
		step("offset", ch.Offset, tr.Unit, "%g %s taken off", ch.Offset, tr.Unit)
	}
	if ch.Delay != 0 {
		out.T0 -= ch.Delay
		step("delay", ch.Delay, "s", "moved %g ns earlier: the channel lags by that", ch.Delay*1e9)
	}
	return &out
}

// Zero returns the trace with its zero taken off; over says where it was read.
func Zero(tr *waveform.Trace, zero float64, over waveform.Interval) *waveform.Trace {
	out := *tr
	out.Y = make([]float64, len(tr.Y))
	for k, y := range tr.Y {
		out.Y[k] = y - zero
	}
	out.Steps = append(slices.Clone(tr.Steps), waveform.Step{Kind: "zero", Value: zero, Unit: tr.Unit,
		Text: fmt.Sprintf("zero of %.4g %s taken off, read from %.6g to %.6g µs", zero, tr.Unit, over.From*1e6, over.To*1e6)})
	return &out
}

// endRounding is how far, as a part of the range (of the limit, where one only is stated),
// a sample may be inside of an end of it and still stand there: what binary fractions and
// the digits of a file leave. A step of 16 bits is fifteen times as much.
const endRounding = 1e-6

// clipRange turns samples at the ends of the stated range into ±Inf. Flat tops
// that give clipping away were flagged by the reader.
func clipRange(tr *waveform.Trace, ch Channel) {
	low, high := ch.RangeMin, ch.RangeMax
	if span := high - low; !math.IsNaN(span) {
		low, high = low+endRounding*span, high-endRounding*span
	} else {
		low, high = low+endRounding*math.Abs(low), high-endRounding*math.Abs(high)
	}
	beyond := func(y float64) bool { return y >= high || y <= low }
	if !slices.ContainsFunc(tr.Y, beyond) {
		return
	}
	tr.Y = slices.Clone(tr.Y)
	for k, y := range tr.Y {
		switch {
		case y >= high:
			tr.Y[k] = math.Inf(1)
		case y <= low:
			tr.Y[k] = math.Inf(-1)
		}
	}
}

package dpt

import (
	"fmt"
	"math"

	"slewbook/dpt/result"
	"slewbook/waveform"
)

// bimodal tells which part of the finite samples lie within a tenth of the
// swing of one of the trace's two states, low and high: nearly all for a
// switched voltage, few for the current of an inductive load, which ramps.
func bimodal(tr *waveform.Trace, low, high float64) float64 {
	if !(high > low) {
		return 0
	}
	tol := 0.1 * (high - low)
	near, n := 0, 0
	for _, y := range tr.Y {
		if y-y != 0 {
			continue
		}
		n++
		if math.Abs(y-low) <= tol || math.Abs(y-high) <= tol {
			near++
		}
	}
	return float64(near) / float64(n)
}

// gateSwing is more than any gate of a MOSFET or an IGBT is driven by [V].
const gateSwing = 60

// swapped tells whether two channels behave like each other: the current ramps
// into an inductive load, the voltages switch between two levels, the gate by a
// few ten volts.
func (r *record) swapped() error {
	const ramps, switches = 0.6, 0.8 // below and above that part at two levels
	look := func(a, b result.Role, ta, tb *waveform.Trace, twoA, twoB float64) error {
		return fmt.Errorf("the channels of %s and %s look swapped: %s (trace %q) rests at two levels for only %.0f %% of the record, %s (trace %q) for %.0f %%, and it is the current that ramps; check channel.%s.source and channel.%s.source",
			a, b, a, ta.Name, 100*twoA, b, tb.Name, 100*twoB, a, b)
	}
	if v := bimodal(r.v, r.vLow, r.vHigh); v < ramps {
		if i := r.bimodalCurrent(); i > switches {
			return look(result.Vds, result.Id, r.v, r.i, v, i)
		}
	}
	if r.g == nil {
		return nil
	}
	if len(r.events) > 2 { // of a part of a pulse a gate may show but one way
		if g := bimodal(r.g, r.gLow, r.gHigh); g < ramps {
			if i := r.bimodalCurrent(); i > switches {
				return look(result.Vgs, result.Id, r.g, r.i, g, i)
			}
		}
	}
	if r.gHigh-r.gLow > gateSwing {
		return fmt.Errorf("vgs (trace %q) switches between %.4g V and %.4g V, but no gate is driven by more than %d V: check channel.vgs.source, channel.vds.source and channel.vgs.scale",
			r.g.Name, r.gLow, r.gHigh, gateSwing)
	}
	return nil
}

func (r *record) bimodalCurrent() float64 {
	low, high := waveform.States(r.i.Y, waveform.Shorth)
	return bimodal(r.i, low, high)
}

// polarity tests signs against physics: a device blocks at the larger voltage;
// it carries positive current, rising under the bus voltage, while it conducts;
// its gate is high while it conducts. What contradicts is named; nothing is
// flipped.
func (r *record) polarity(method waveform.LevelMethod) *waveform.Warning {
	warn := func(role result.Role, over waveform.Interval, format string, args ...any) *waveform.Warning {
		return &waveform.Warning{Code: waveform.Polarity, Channel: string(role), Over: over, Text: fmt.Sprintf(format, args...)}
	}
	if math.Abs(r.vLow) > math.Abs(r.vHigh) {
		return warn(result.Vds, waveform.Interval{},
			"vds (trace %q) rests at %.4g V and %.4g V, but a device blocks at a positive voltage far above its on-state voltage; if the probe is reversed, change channel.vds.invert",
			r.v.Name, r.vLow, r.vHigh)
	}
	k := r.longestOn()
	if k < 0 {
		return nil
	}
	over := r.conducting(k, method)
	line := waveform.FitLine(r.i, over)
	peak := 0.0
	for _, y := range r.i.Y {
		if a := math.Abs(y); a > peak && !math.IsInf(y, 0) {
			peak = a
		}
	}
	if line.Y0 < -0.1*peak {
		return warn(result.Id, over,
			"id (trace %q) is %.4g A with a ramp of %.3g A/µs while the device conducts (%s to %s), but the load current is positive and rises under the bus voltage; if the sensor is reversed, change channel.id.invert",
			r.i.Name, line.Y0, line.Slope*1e-6, at(over.From), at(over.To))
	}
	if rest := r.blockingCurrent(method); math.Abs(rest) > 0.2*peak {
		return warn(result.Id, waveform.Interval{},
			"id (trace %q) rests at %.4g A while the device blocks, a large part of its peak of %.4g A, but nothing flows then; check channel.id.source, and channel.id.offset if the sensor has such a zero",
			r.i.Name, rest, peak)
	}
	if r.g != nil && bimodal(r.g, r.gLow, r.gHigh) > 0.7 { // else it does not rest at two levels in this record
		g := waveform.Level(r.g.Samples(over), method)
		if g < (r.gLow+r.gHigh)/2 {
			return warn(result.Vgs, over,
				"vgs (trace %q) is %.3g V, its low level, while vds is low and the device conducts (%s to %s), but a gate is high then; if the probe is reversed, change channel.vgs.invert; else check channel.vds.source and channel.vgs.source",
				r.g.Name, g, at(over.From), at(over.To))
		}
	}
	return nil
}

// longestOn returns the longest stay in which the device conducts, -1 if there
// is none.
func (r *record) longestOn() int {
	best, dur := -1, 0.0
	for k := range len(r.events) + 1 {
		if d := r.stay(k).Duration(); d > dur && r.conducts(k) {
			best, dur = k, d
		}
	}
	return best
}

// blockingCurrent returns the level of the current while the device blocks, in
// the first stay that it does; 0 if there is none.
func (r *record) blockingCurrent(method waveform.LevelMethod) float64 {
	for k := range len(r.events) + 1 {
		if !r.conducts(k) {
			if y := waveform.Level(r.i.Samples(part(r.stay(k), 0.5, 0.9)), method); !math.IsNaN(y) {
				return y
			}
		}
	}
	return 0
}

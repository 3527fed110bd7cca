package dpt

import (
	"fmt"
	"math"

	"slewbook/dpt/result"
	"slewbook/waveform"
)

// bimodal tells which part of the finite samples lie within a tenth of the
// swing of one of the trace's two states: nearly all for a switched voltage,
// few for the current of an inductive load, which ramps.
func bimodal(tr *waveform.Trace) float64 {
	low, high := waveform.States(tr.Y, waveform.Shorth)
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

// swapped tells whether v and i behave like each other: the one ramps and the
// other switches between two levels.
func (r *record) swapped() error {
	if v, i := bimodal(r.v), bimodal(r.i); v < 0.6 && i > 0.8 {
		return fmt.Errorf("the channels of vds and id look swapped: vds (trace %q) rests at two levels for only %.0f %% of the record, id (trace %q) for %.0f %%, and a current into an inductive load ramps; check channel.vds.source and channel.id.source",
			r.v.Name, 100*v, r.i.Name, 100*i)
	}
	return nil
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
			"vds (trace %q) rests at %.4g V and %.4g V, but a device blocks at a positive voltage far above its on-state voltage; if the probe is reversed, set channel.vds.invert = true",
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
			"id (trace %q) is %.4g A with a ramp of %.3g A/µs while the device conducts (%s to %s), but the load current is positive and rises under the bus voltage; if the sensor is reversed, set channel.id.invert = true",
			r.i.Name, line.Y0, line.Slope*1e-6, at(over.From), at(over.To))
	}
	if r.g != nil {
		g := waveform.Level(r.g.Samples(over), method)
		if g < (r.gLow+r.gHigh)/2 {
			return warn(result.Vgs, over,
				"vgs (trace %q) is %.3g V, its low level, while vds is low and the device conducts (%s to %s), but a gate is high then; if the probe is reversed, set channel.vgs.invert = true; else check channel.vds.source and channel.vgs.source",
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
		on := k > 0 && r.events[k-1].Edge == result.TurnOn || k == 0 && r.events[0].Edge == result.TurnOff
		if d := r.stay(k).Duration(); on && d > dur {
			best, dur = k, d
		}
	}
	return best
}

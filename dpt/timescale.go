package dpt

import (
	"math"

	"slewbook/dpt/result"
	"slewbook/waveform"
	"slewbook/waveform/unit"
)

// What no device of this job goes beyond at its fastest edge, and no loop in its ringing:
// even large IGBTs pass the middle of the bus within a microsecond, the fastest GaN does
// some hundred volts a nanosecond, and loops of nanohenries to a microhenry with the
// devices' capacitances ring at 1 MHz to 1 GHz (common practice, no source).
const (
	slowestMiddle = 2e-6  // from 35 to 65 % of v [s]
	slowestSlope  = 20e6  // [V/s]
	fastestSlope  = 2e12  // [V/s]
	slowestRing   = 200e3 // [Hz]
	fastestRing   = 5e9   // [Hz]
	usualMiddle   = 1e-6  // [s]
)

// timeScale warns where edges and ringing are slower, or faster, than anything that is
// switched, as with time stamps in µs under a header in s. Nothing is converted.
func (m *measurer) timeScale() {
	middle, over := math.Inf(1), nowhere
	for _, mv := range m.r.moves {
		if d := mv.Dur.Duration(); d < middle {
			middle, over = d, mv.Dur
		}
	}
	slope := (hysteresisHigh - hysteresisLow) * (m.r.vHigh - m.r.vLow) / middle
	f := m.read["f_ring_off"].value
	factor, found := 0.0, ""
	switch {
	case middle > slowestMiddle, slope < slowestSlope, f < slowestRing:
		for factor = 1e3; middle/factor > usualMiddle; factor *= 1e3 {
		}
		found = "slower"
	case slope > fastestSlope, f > fastestRing:
		factor, found = 1e-3, "faster"
	default:
		return
	}
	ring := ""
	if !math.IsNaN(f) {
		ring = ", and what rings after the turn-off does so at " + unit.Format(f, "Hz", 3)
	}
	m.warn(waveform.ImplausibleTime, result.Vds, over,
		"the fastest edge of vds passes from %.0f to %.0f %% in %s (%s)%s: %s than anything that is switched. If the stamps are in another unit than their header says, by a factor of %g, every time, slope, energy and inductance is wrong by that; check the unit of the time column, or file.interval",
		100*hysteresisLow, 100*hysteresisHigh, unit.Format(middle, "s", 3), unit.Format(slope, "V/s", 3), ring, found, factor)
}

package dpt

import (
	"math"

	"slewbook/dpt/result"
	"slewbook/waveform"
	"slewbook/waveform/unit"
)

// How far the load current may go on otherwise than an inductor lets it.
const (
	freewheelDrop = 6.0  // largest voltage against the current in the gap, and
	freewheelPart = 0.03 // of the bus besides, for resistances [V]
	jumpTol       = 0.03 // of the current, from turn-off to turn-on
	slopeTol      = 0.2  // of the ramp's slope, from the first pulse to that of the turn-on
)

// continuity warns where the load current at the turn-on does not follow from that at the
// turn-off before it, or its ramp from that of the first pulse. In the gap the current
// freewheels: it cannot rise, and falls by no more than the device's voltage makes it.
// Behind the turn-on it rises as before, L·di/dt = v_bus - v. What else it does is the
// sensor's: saturation, a gain or zero that moves with time or overload.
func (m *measurer) continuity() {
	if m.off == nil || m.on == nil || m.on.index != m.off.index+1 || m.off.noLoad(m.full) != nil || m.on.noLoad(m.full) != nil {
		return
	}
	l, line := m.read["l_load"].value, m.on.line
	from, _ := m.off.crossing(v(50))
	to, _ := m.on.crossing(i(50))
	gap := waveform.Interval{From: from, To: to}
	fall := (freewheelDrop + freewheelPart*m.on.bus.level) * gap.Duration() / l
	tol := max(jumpTol*m.off.load, restSigma*math.Hypot(m.off.loadU(), m.on.loadU()))
	if step := m.on.load - m.off.load; step > tol || -step > tol+fall {
		m.warn(waveform.CommonMode, result.Id, gap, "the load current is %s at the turn-off and %s at the turn-on %s later, but freewheeling it cannot rise, nor fall by more than %s: gain or zero of id's sensor moves with time or overload",
			unit.Format(m.off.load, "A", 4), unit.Format(m.on.load, "A", 4), unit.Format(gap.Duration(), "s", 3), unit.Format(fall, "A", 2))
	}
	ratio := line.line.Slope / (line.bus - line.vOn) * l
	n := float64(line.line.N)
	noise := line.line.Residual * math.Sqrt(12*m.r.grain[result.Id].reach) / (math.Pow(n, 1.5) * m.r.i.Dt) / math.Abs(line.line.Slope)
	if !(math.Abs(ratio-1) > max(slopeTol, restSigma*noise*math.Abs(ratio))) {
		return
	}
	m.warn(waveform.LoadBend, result.Id, line.over, "behind the turn-on the load's ramp rises with %.0f %% of the slope that the first pulse and the bus ask for: less is a sensor of id that saturates or droops, and its peaks are too small; more is an inductor that saturates",
		100*ratio)
	if ratio > 1 {
		return
	}
	for _, key := range []string{"i_peak", "i_overshoot", "i_max", "i_rrm", "q_rr", "e_on", "e_tot"} {
		m.warnOf(key, waveform.Warning{Code: waveform.LoadBend, Channel: string(result.Id), Over: line.over, Text: "the sensor of id may saturate from the load current on: this is too small then"})
	}
}

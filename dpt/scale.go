package dpt

import (
	"fmt"
	"math"

	"slewbook/dpt/result"
	"slewbook/waveform"
	"slewbook/waveform/unit"
)

// What half bridges have: loops of a nanohenry to a microhenry that ring with the devices'
// capacitances at an impedance 2πf·L of 0.3 to 60 Ω; gates that are driven by 4 V and more,
// and by less than what is switched (common practice, no source).
const (
	leastRingZ, mostRingZ = 0.15, 200.0  // beyond that none is believed [Ω]
	leastLoop, mostLoop   = 0.4e-9, 2e-6 // [H]
	usualLeastZ, usualZ   = 0.3, 60.0    // [Ω]
	leastGateSwing        = 2.5          // [V]
	leastBusPart          = 0.5          // of the gate's swing
)

// scales warns where levels or the loop are such as no half bridge has, as with the
// attenuation of a probe or the factor of a shunt that was not applied. A factor of ten
// mostly leaves both within what others have; the set-up's v_bus and l_load tell more.
func (m *measurer) scales() {
	bus, swing := m.r.vHigh-m.r.vLow, m.r.gHigh-m.r.gLow
	gated := m.r.g != nil && bimodal(m.r.g, m.r.gLow, m.r.gHigh) > 0.7
	switch {
	case gated && swing < leastGateSwing:
		m.warn(waveform.ScaleSuspect, result.Vgs, waveform.Interval{}, "vgs switches between %s and %s, but no gate of a power device is driven by so little: the attenuation of a probe that was not applied is the first suspect; check channel.vgs.scale",
			unit.Format(m.r.gLow, "V", 3), unit.Format(m.r.gHigh, "V", 3))
	case gated && bus < leastBusPart*swing:
		m.warn(waveform.ScaleSuspect, result.Vds, waveform.Interval{}, "vds switches %s with a gate that is driven by %s: the attenuation of a probe that was not applied to vds is the first suspect; check channel.vds.scale",
			unit.Format(bus, "V", 3), unit.Format(swing, "V", 3))
	}
	f, l := m.read["f_ring_off"], m.read["l_loop"]
	z := 2 * math.Pi * f.value * l.value
	which, factor := "id is too small or vds too large", 10.0
	switch {
	case z < leastRingZ || l.value < leastLoop:
		which = "id is too large or vds too small"
		for z*factor < usualLeastZ {
			factor *= 10
		}
	case z > mostRingZ || l.value > mostLoop:
		for z/factor > usualZ {
			factor *= 10
		}
	default:
		return
	}
	rings := ""
	if !math.IsNaN(z) {
		rings = fmt.Sprintf(" and rings at %s, which makes %s", unit.Format(f.value, "Hz", 3), unit.Format(z, "ohm", 2))
	}
	m.warn(waveform.ScaleSuspect, result.Id, l.over, "the loop has %s by its dip%s; no half bridge has that: %s, by a factor of %g or more, as with a sensor whose factor was not applied; check channel.id.scale and channel.vds.scale",
		unit.Format(l.value, "H", 3), rings, which, factor)
}

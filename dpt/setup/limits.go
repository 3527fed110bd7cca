package setup

import (
	"math"

	"slewbook/dpt/limits"
)

// Limits lists the limits that the file gives for device and insulation, each with
// the quantity that is held against it.
func (s *Setup) Limits() []limits.Rating {
	d, nan := s.Device, math.NaN()
	v, i, g := "drain-source voltage", "drain current", "gate-source voltage"
	if d.Kind == "igbt" {
		v, i, g = "collector-emitter voltage", "collector current", "gate-emitter voltage"
	}
	var out []limits.Rating
	add := func(name, key, quantity string, low, high float64) {
		if !math.IsNaN(low) || !math.IsNaN(high) {
			out = append(out, limits.Rating{Name: name, Setup: key, Limit: limits.Limit{Key: quantity, Min: low, Max: high}})
		}
	}
	add("rated "+v, "device.v_max", "v_max", nan, d.VMax)
	add("rated "+i, "device.i_max", "i_max", nan, d.IMax)
	add("static "+g, "device.vgs_max", "vgs_max", nan, d.VgsMax)
	add("static "+g, "device.vgs_min", "vgs_min", d.VgsMin, nan)
	add("transient "+g, "device.vgs_max_dynamic", "vgs_max", nan, d.VgsMaxDynamic)
	add("transient "+g, "device.vgs_min_dynamic", "vgs_min", d.VgsMinDynamic, nan)
	add("threshold of the idle gate", "device.vgs_th", "vgs_other_max", nan, d.VgsTh)
	add("slope of the voltage at turn-off", "device.dvdt_max", "dvdt_off_max", nan, d.DvdtMax)
	add("slope of the voltage at turn-on", "device.dvdt_max", "dvdt_on_max", nan, d.DvdtMax)
	add("slope of the current at turn-off", "device.didt_max", "didt_off_max", nan, d.DidtMax)
	add("slope of the current at turn-on", "device.didt_max", "didt_on_max", nan, d.DidtMax)
	add("partial-discharge inception, as a peak", "insulation.pd_inception", "v_max", nan, math.Sqrt2*s.Insulation.PDInception)
	return out
}

package model

import (
	"testing"

	"slewbook/waveform/wavetest"
)

// TestAgainstSpice compares the shot with the same circuit solved by ngspice,
// a general-purpose circuit simulator, from testdata/halfbridge.cir.
func TestAgainstSpice(t *testing.T) {
	compareSpice(t, wavetest.Spice(t, "halfbridge"))
}

// compareSpice compares with the .meas results: instants to 20 ps, which is
// ngspice's longest step, peaks and energies to 0.05 %.
func compareSpice(t *testing.T, spice map[string]float64) {
	s := Demo(600, 50)
	w := s.Waveforms()
	const start = 100e-9 // of the first command in the netlist
	off, on := w.Commands[1].T, w.Commands[2].T
	at := func(name string, f function, level float64, rising bool, from float64) float64 {
		x := crossing(f, level, rising, from, from+300e-9, 5e-12)
		near(t, name, x+start, spice[name], 20e-12)
		return x
	}
	v60up := at("v60up", w.V, 60, true, off)
	at("v540up", w.V, 540, true, off)
	at("i45down", w.I, 45, false, off)
	i5down := at("i5down", w.I, 5, false, off)
	i5up := at("i5up", w.I, 5, true, on)
	at("i45up", w.I, 45, true, on)
	at("v500down", w.V, 500, false, on)
	at("v60down", w.V, 60, false, on)
	v12down := at("v12down", w.V, 12, false, on)

	relative := func(name string, got, want float64) { near(t, name, got, want, 5e-4*want) }
	_, peak := highest(w.V, off, on, 1e-11)
	relative("v_peak", peak, spice["v_peak"])
	_, peak = highest(w.I, on, on+150e-9, 1e-11)
	relative("i_peak", peak, spice["i_peak"])
	power := func(t float64) float64 { return w.V(t) * w.I(t) }
	relative("e_off", quadrature(power, v60up, i5down, 5e-12), 1e-6*(spice["e_i5down"]-spice["e_v60up"]))
	relative("e_on", quadrature(power, i5up, v12down, 5e-12), 1e-6*(spice["e_v12down"]-spice["e_i5up"]))
}

package plan

import (
	"math"
	"testing"

	"slewbook/waveform/wavetest"
)

// TestAgainstSpice compares a plan with the same circuit solved by ngspice, a
// general-purpose circuit simulator, from testdata/bench.cir.
func TestAgainstSpice(t *testing.T) {
	compareSpice(t, wavetest.Spice(t, "bench"))
}

// compareSpice plans the current that ngspice reached after 20 µs and compares the
// rest. The printed digits are 1e-6 of a current: sag and drift are differences, so that
// 0.1 % of them is that much.
func compareSpice(t *testing.T, spice map[string]float64) {
	b := Default()
	b.Voltages, b.Currents, b.Compensate = []float64{620}, []float64{spice["i_off"]}, false
	b.L, b.LR, b.C, b.ESR, b.ROn, b.VF = 100e-6, 20e-3, 100e-6, 4e-3, 12e-3, 2.5
	b.Gap, b.Width, b.LLoop, b.LPack, b.DidtOff = 5e-6, 2e-6, 12e-9, 5e-9, 3e9
	if err := b.Validate(); err != nil {
		t.Fatal(err)
	}
	p := b.Point(620, spice["i_off"], math.NaN())
	near(t, "t_1", p.T1, 20e-6, 1e-4)
	near(t, "v_off", p.VOff, spice["v_off"], 1e-5)
	near(t, "v_sag", p.Value("v_sag"), 620-spice["v_off"], 1e-3)
	near(t, "i_on", p.IOn, spice["i_on"], 1e-5)
	near(t, "change in the gap", p.IOff-p.IOn, spice["i_off"]-spice["i_on"], 3e-3) // the switches take 1 ns to change over
	near(t, "i_end", p.IEnd, spice["i_end"], 1e-4)
	near(t, "v_end", p.VEnd, spice["v_end"], 1e-5)
	// The turn-off of the netlist stands on a stiff 600 V.
	near(t, "what the loop adds", p.Value("v_peak")-p.VOff, spice["v_peak"]-600, 1e-3)
}

package dpt_test

import (
	"go/ast"
	"go/parser"
	"go/token"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"slewbook/dpt"
	"slewbook/dpt/result"
	"slewbook/waveform/wavetest"
)

// closedForms names, for each quantity, the test that holds it against a signal whose
// answer has a closed form. delay_vgs never is a number, which is what its test holds.
var closedForms = map[string]string{
	"v_bus_off": ideal, "v_bus_on": ideal, "i_off": ideal, "i_on": ideal,
	"v_max": "TestClosedFormExtremes", "i_max": "TestClosedFormExtremes",
	"vgs_high": ideal, "vgs_low": ideal, "vgs_max": ideal, "vgs_min": ideal,
	"t_vgs_above": straightGate, "t_vgs_below": straightGate, "t_vgs_above_dynamic": straightGate, "t_vgs_below_dynamic": straightGate,
	"vgs_other_max": "TestIdleGate", "vgs_other_min": "TestIdleGate", "vgs_other_margin": "TestIdleGate",
	"q_g_off": "TestGateCharge", "e_g_off": "TestGateCharge", "q_g_on": "TestGateCharge", "e_g_on": "TestGateCharge", "e_drive": "TestGateCharge",
	"vgs_plateau_off": straightGate, "t_plateau_off": straightGate, "vgs_undershoot": straightGate,
	"vgs_plateau_on": straightGate, "t_plateau_on": straightGate, "vgs_overshoot": straightGate,
	"td_off": ideal, "t_off": ideal, "t_rise_v": ideal, "t_fall_i": ideal, "dvdt_off": ideal, "didt_off": ideal,
	"dvdt_off_max": "TestClosedFormSteepest", "didt_off_max": "TestClosedFormSteepest", "dvdt_on_max": "TestClosedFormSteepest", "didt_on_max": "TestClosedFormSteepest",
	"e_off": ideal, "v_peak": ideal, "v_overshoot": ideal,
	"f_ring_off": "TestRinging", "zeta_off": "TestRinging", "t_settle_off": "TestSettlingDuration",
	"t_tail": "TestTailClosedForm", "q_tail": "TestTailClosedForm", "e_tail": "TestTailClosedForm",
	"td_on": ideal, "t_on": ideal, "t_rise_i": ideal, "t_fall_v": ideal, "t_fall_v.after-i90": ideal,
	"dvdt_on": ideal, "dvdt_on.after-i90": ideal, "didt_on": ideal, "e_on": ideal, "i_peak": ideal, "i_overshoot": ideal,
	"i_rrm": "TestRecoveryTriangle", "t_rr": "TestRecoveryTriangle", "q_rr": "TestRecoveryTriangle",
	"s_rr": "TestRecoverySheets", "rrsf": "TestRecoverySheets", "didt_f": "TestRecoverySheets", "didt_rr": "TestRecoveryEndRules", "e_rr": "TestRecoverySheets",
	"f_ring_on": "TestRingOfFewPeriods", "zeta_on": "TestRingOfFewPeriods", "t_settle_on": "TestClosedFormSettling",
	"e_tot": "TestClosedFormTotal", "l_load": ideal, "load_bend": ideal,
	"l_loop": "TestClosedFormLoop", "l_loop_overshoot": "TestClosedFormLoop", "l_loop_spread": "TestClosedFormLoop",
	"l_loop_ring": "TestRingInductance", "c_ring": "TestRingInductance", "l_loop_bare": "TestBareLoop",
	"q_oss": "TestOutputCapacitance", "e_oss": "TestOutputCapacitance", "e_off_channel": "TestOutputCapacitance", "e_on_channel": "TestOutputCapacitance",
	"v_sag": "TestBusSag", "v_recovery": "TestBusSag", "c_bus": "TestBusSag", "v_ds_on": "TestOnState", "r_ds_on": "TestOnState",
	"e_load": "TestEnergyBalance", "e_bank": "TestBusSag", "e_bus": "TestEnergyBalance", "e_dut": "TestEnergyBalance", "e_rest": "TestEnergyBalance", "balance": "TestEnergyBalance",
	"v_other_peak": "TestPartner", "dvdt_other": "TestPartner", "v_frm": "TestClosedFormForwardRecovery", "t_dead_off": "TestPartner", "t_dead_on": "TestPartner",
	"i_branch_off": branches, "i_branch_on": branches, "i_branch_peak": branches, "i_share_off": branches, "i_share_on": branches,
	"i_spread_off": branches, "i_spread_on": branches, "i_sum_off": branches, "e_branch_off": branches, "e_branch_on": branches,
	"e_spread_off": branches, "e_spread_on": branches, "t_branch_off": branches, "t_branch_on": branches, "t_spread_off": branches, "t_spread_on": branches,
	"delay_v_other": "TestPartner", "delay_i_other": "TestPartner", "delay_id": "TestClosedFormLoop", "delay_vgs": "TestDelayNotObservable",
}

const (
	ideal        = "TestIdealShot" // whose answers are those of wavetest.DoublePulse
	straightGate = "TestGateByStraightLines"
	branches     = "TestParallelBranches"
)

// Every quantity has a test against a closed form, and that test names it.
func TestEveryQuantityHasAClosedForm(t *testing.T) {
	text := testTexts(t)
	answers, err := os.ReadFile("../waveform/wavetest/answers.go")
	if err != nil {
		t.Fatal(err)
	}
	text[ideal] += string(answers)
	for _, c := range result.Columns {
		test, ok := closedForms[c.Key]
		switch {
		case !ok:
			t.Errorf("%s has no test against a closed form", c.Key)
		case !strings.Contains(text[test], `"`+c.Key+`"`) && !strings.Contains(text[test], `"`+c.Key+`.`):
			t.Errorf("%s does not name %s", test, c.Key)
		}
	}
}

// testTexts returns the source of each test of this package by its name.
func testTexts(t *testing.T) map[string]string {
	t.Helper()
	files, err := filepath.Glob("*_test.go")
	if err != nil {
		t.Fatal(err)
	}
	texts := map[string]string{}
	for _, name := range files {
		src, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		set := token.NewFileSet()
		file, err := parser.ParseFile(set, name, src, 0)
		if err != nil {
			t.Fatal(err)
		}
		for _, d := range file.Decls {
			if f, ok := d.(*ast.FuncDecl); ok {
				texts[f.Name.Name] = string(src[set.Position(f.Pos()).Offset:set.Position(f.End()).Offset])
			}
		}
	}
	return texts
}

// wantClosed compares readings with their closed forms, each with its tolerance.
func wantClosed(t *testing.T, read map[string]dpt.Reading, want map[string][2]float64) {
	t.Helper()
	for key, w := range want {
		if m := read[key]; !(math.Abs(m.Value-w[0]) <= w[1]) || !(m.U > 0) {
			t.Errorf("%s = %.6g ± %.2g, in closed form %.6g, allowed %.2g %v", key, m.Value, m.U, w[0], w[1], m.Warnings)
		}
	}
}

// unaligned reads an ideal shot without looking for a delay.
func unaligned(t *testing.T, d wavetest.DoublePulse, dt float64) map[string]dpt.Reading {
	t.Helper()
	opt := dpt.Defaults()
	opt.Align = dpt.AlignOff
	return dpt.Readings(t, d.Capture(dt, -lead+wavetest.OffGrid(dt, 1)), opt)
}

// The largest of a record: V + L·I/t_fi at the turn-off of the last pulse, whose current
// the load has ramped up by V·t/L_load since that of the first; and the load current plus a
// recovery that is larger.
func TestClosedFormExtremes(t *testing.T) {
	d := wavetest.Example()
	d.Irrm, d.Tb, d.LLoad = 40, 15e-9, 0.5e-3
	a := d.Answers(1, 2).Values
	// The peak of i lies between two samples: up to half a sample of its steeper side.
	wantClosed(t, unaligned(t, d, 0.25e-9), map[string][2]float64{
		"v_max": {d.Answers(2, 2).Values["v_peak"], 0.05}, "i_max": {a["i_peak"], 0.125e-9 * 40 / 15e-9},
	})
}

// A straight line is nowhere steeper than on the average: V/t_v and I/t_i of its ramps.
func TestClosedFormSteepest(t *testing.T) {
	d := wavetest.Example()
	d.LLoad, d.LLoop = 1e-3, 0
	i := d.Answers(1, 2).Values
	wantClosed(t, unaligned(t, d, 0.25e-9), map[string][2]float64{
		"dvdt_off_max": {d.V / d.OffTv, 1e-3 * d.V / d.OffTv}, "didt_off_max": {i["i_off"] / d.OffTi, 2e-3 * i["i_off"] / d.OffTi},
		"dvdt_on_max": {d.V / d.OnTv, 1e-3 * d.V / d.OnTv}, "didt_on_max": {i["i_on"] / d.OnTi, 2e-3 * i["i_on"] / d.OnTi},
	})
}

// Energies of both edges on straight ramps, ½VI(t_i + t_v) each, less what the levels of
// the windows cut off: 1 % of the first ramp's half and 0.04 % of the second's.
func TestClosedFormTotal(t *testing.T) {
	d := wavetest.Example()
	d.LLoad, d.LLoop = 1e-3, 0
	whole := d.V * d.I / 2 * (0.99*(d.OnTi+d.OffTv) + 0.9996*(d.OnTv+d.OffTi))
	// The load's ramp moves the current by 16 mA over each edge.
	wantClosed(t, unaligned(t, d, 0.25e-9), map[string][2]float64{"e_tot": {whole, 2e-3 * whole}})
}

// A ring of i at the turn-on leaves the band of 5 % of the load current after
// ln(A/band)/decay, the last swing beyond it up to half a period earlier.
func TestClosedFormSettling(t *testing.T) {
	d := wavetest.Example()
	d.LLoad, d.LLoop = 1e-3, 0
	d.RingI = wavetest.Ring{Amplitude: 8, F: 40e6, Zeta: 0.03}
	most := d.OnTi/2 + d.OnTv + math.Log(8/(0.05*d.I))/d.RingI.Decay()
	half := 0.25 / d.RingI.F
	wantClosed(t, unaligned(t, d, 0.25e-9), map[string][2]float64{"t_settle_on": {most - half, half}})
}

// The freewheeling device's forward recovery: an exponential of 30 V against the
// direction in which it blocks, from where it takes over the load current.
func TestClosedFormForwardRecovery(t *testing.T) {
	d := wavetest.Example()
	d.LLoop, d.Partner = 0, true
	const peak, tau, dt = 30, 50e-9, 0.25e-9
	c := d.Capture(dt, -lead)
	meet := d.Answers(1, 2).Events[1].T + d.OffTv/2
	other := c.Trace("V_other")
	for k := range other.Y {
		if x := other.Time(k) - meet; x >= 0 && x < 20*tau {
			other.Y[k] -= peak * math.Exp(-x/tau)
		}
	}
	opt := dpt.Defaults()
	opt.Align = dpt.AlignOff
	// The first sample comes up to dt late, when dt/tau of it is gone.
	wantClosed(t, dpt.Readings(t, c, opt), map[string][2]float64{"v_frm": {peak * (1 - dt/tau/2), peak * dt / tau}})
}

// A loop that obeys v = V - L·di/dt throughout: straight ramps with the dip and the
// overshoot that L makes of them, then a ring of i with the voltage that L makes of it.
// The inductance and the lag that was put in come out by each way. Whether the ring's
// damping is a resistance in the loop, which looks like a lag of decay/ω², the signal does
// not tell; so much the lag may be off, and its u counts.
func TestClosedFormLoop(t *testing.T) {
	for _, lag := range []float64{0, 1.7e-9, -2.3e-9} {
		d := wavetest.Example()
		d.LLoad = 0.5e-3
		c := d.Capture(0.4e-9, -lead)
		end := d.Answers(1, 2).Events[1].T + d.OffTv/2 + d.OffTi
		ring := wavetest.Ring{Amplitude: 6, F: 40e6, Zeta: 0.03, Start: end}
		omega := 2 * math.Pi * ring.F
		vds, id := c.Trace("Vds"), c.Trace("Id")
		for k := range vds.Y {
			x := vds.Time(k) - end
			if x < 0 || x > d.Gap-0.2e-6 {
				continue
			}
			sin, cos := math.Sincos(omega * x)
			swing := ring.Amplitude * math.Exp(-ring.Decay()*x)
			id.Y[k] -= swing * sin
			vds.Y[k] += d.LLoop * swing * (omega*cos - ring.Decay()*sin)
		}
		wavetest.AddNoise(vds, 0.2, 3)
		wavetest.AddNoise(id, 0.005, 4)
		id.T0 += lag
		read := dpt.Readings(t, c, dpt.Defaults())
		wantClosed(t, read, map[string][2]float64{
			"delay_id": {lag, ring.Decay() / (omega * omega)}, "l_loop": {d.LLoop, 0.01 * d.LLoop}, "l_loop_overshoot": {d.LLoop, 0.01 * d.LLoop}, "l_loop_spread": {0, 0.015},
		})
	}
}

package loss

import (
	"math"

	"slewbook/dpt/result"
)

// outcome is a solved point with what its figures are read from.
type outcome struct {
	stress
	balance
	closed [parts]float64 // three-phase
}

// Figure is one figure of the losses and how it is computed.
type Figure struct {
	result.PlanFigure
	of func(o *outcome) float64 // NaN where an input is not known
}

const (
	derived = "derived from the circuit"
	common  = "common practice, no source"
	memory  = "handbooks of power modules (from memory)"
)

func figure(key, symbol, unit string, text bool, help, formula, source string, of func(o *outcome) float64, inputs ...string) Figure {
	return Figure{result.PlanFigure{Key: key, Symbol: symbol, Unit: unit, Text: text, Help: help, Formula: formula, Inputs: inputs, Source: source}, of}
}

// ofPart returns a part of all positions.
func ofPart(k part) func(o *outcome) float64 {
	return func(o *outcome) float64 { return o.c.positions() * o.Parts[k] }
}

// Parts are the figures that add up to p_total.
var Parts = []string{"p_on", "p_off", "p_rr", "p_cond_t", "p_cond_d", "p_dead", "p_gate"}

// Figures lists all figures of a point in the order of the tables: the only list,
// which tables, CSV, JSON and explanations follow.
var Figures = []Figure{
	figure("f_sw", "f_sw", "Hz", true, "switching frequency", "given", "", func(o *outcome) float64 { return o.f }, "converter.f_sw"),
	figure("v", "V", "V", false, "bus voltage that is switched", "half bridge, three-phase: given; buck: V_in; boost: V_out", derived, func(o *outcome) float64 { return o.c.bus() }, "converter.v_bus", "converter.v_in", "converter.v_out"),
	figure("duty", "D", "1", false, "share of a period for which the hard-switching side conducts; three-phase: varies", "half bridge: given; buck: V_out/V_in; boost: 1 - V_in/V_out, of a converter without loss", derived, ofLeg(func(o *outcome) float64 { return o.duty }), "converter.duty", "converter.v_in", "converter.v_out"),
	figure("i_on", "I_on", "A", false, "current at turn-on; three-phase: varies", "I - V·D·(1-D)/(2·L·f_sw); boost: I = I_out·V_out/V_in", derived, ofLeg(func(o *outcome) float64 { return o.valley }), "converter.i", "converter.i_out", "converter.l", "v", "duty", "f_sw"),
	figure("i_off", "I_off", "A", false, "current at turn-off; three-phase: peak of the sine", "I + V·D·(1-D)/(2·L·f_sw); three-phase: √2·I", derived, func(o *outcome) float64 { return o.peak }, "converter.i", "converter.i_out", "converter.l", "v", "duty", "f_sw"),
	figure("i_ripple", "ΔI", "A", false, "by how much the edges' currents are off the mean, or the sine, by the ripple; three-phase: the largest of all cycles", "V·D·(1-D)/(2·L·f_sw); three-phase, d of the leg, d_2 and d_3 of the others: V/(2·L·f_sw)·((2·d - min(d, d_2) - min(d, d_3)) - d·(2·d - d_2 - d_3))/3", derived, func(o *outcome) float64 { return o.largestRipple() }, "v", "duty", "converter.l", "f_sw", "converter.m"),
	figure("p_on", "P_on", "W", true, "turn-on", "f_sw·E_on(I_on, V, T_j, R_G,on); three-phase: sum over the carrier cycles", common, ofPart(partOn), "f_sw", "grid of e_on", "i_on", "tj_t", "converter.rg_on"),
	figure("p_off", "P_off", "W", true, "turn-off", "f_sw·E_off(I_off, V, T_j, R_G,off); three-phase: sum over the carrier cycles", common, ofPart(partOff), "f_sw", "grid of e_off", "i_off", "tj_t", "converter.rg_off"),
	figure("p_rr", "P_rr", "W", true, "recovery of the freewheeling device", "f_sw·E_rr(I_on, V, T_j, R_G,on); three-phase: sum over the carrier cycles", common, ofPart(partRr), "f_sw", "grid of e_rr", "i_on", "tj_d"),
	figure("p_cond_t", "P_T", "W", true, "conduction of the switching transistors", "D·mean of v(i, T_j)·i along the ripple; three-phase: sum over the carrier cycles", common, ofPart(partCondT), "duty", "transistor.on", "i_on", "i_off", "tj_t"),
	figure("p_cond_d", "P_D", "W", true, "conduction of the freewheeling side: diode, or channel with synchronous", "(1 - D - 2·t_dead·f_sw)·mean of v(i, T_j)·i along the ripple; three-phase: sum over the carrier cycles", common, ofPart(partCondD), "duty", "diode.on", "transistor.on", "converter.t_dead", "tj_d"),
	figure("p_dead", "P_dead", "W", true, "conduction of the diode in the dead times, with synchronous", "t_dead·f_sw·(v·i at I_off + v·i at I_on)", common, ofPart(partDead), "converter.t_dead", "f_sw", "diode.on", "i_on", "i_off"),
	figure("p_gate", "P_G", "W", true, "charging the gates: in driver and gate resistors, not in the dies", "n·Q_G·ΔV_GS·f_sw, n the gates that are driven", common, gate, "transistor.q_gate", "transistor.v_gate", "f_sw"),
	figure("p_total", "P", "W", true, "sum of the parts that are known", "P_on + P_off + P_rr + P_T + P_D + P_dead + P_G", derived, total, Parts...),
	figure("p_closed", "P_closed", "W", false, "three-phase: all but the gates in closed form, without ripple, at the temperatures of the sum over the cycles",
		"6·(f_sw·(a/2 + b·Î/π + c·Î²/4) + V_0·Î·(1/2π ± m·cos φ/8) + r·Î²·(1/8 ± m·cos φ/3π)), the diode in place of the channel for 2·t_dead·f_sw·(V_0·Î/π + r·Î²/4), E = a + bI + cI² and v = V_0 + r·i fitted up to Î", memory, ofThreePhase(func(o *outcome) float64 { return o.c.positions() * whole(o.closed) }), "i_off", "converter.m", "converter.cos_phi", "grids", "transistor.on", "diode.on"),
	figure("closed_off", "ΔP_closed", "1", false, "three-phase: how far the closed form is from the sum over the cycles, gates apart", "P_closed/(P - P_G) - 1", derived, ofThreePhase(func(o *outcome) float64 { return whole(o.closed)/whole(o.Parts) - 1 }), "p_closed", "p_total", "p_gate"),
	figure("tj_t", "T_j,T", "K", true, "junction of the switching transistor", "T_sink + R_th·(its losses), iterated", common, func(o *outcome) float64 { return o.T.T }, "transistor.r_th", "t_sink", "cooling.t_j"),
	figure("tj_d", "T_j,D", "K", true, "junction of the freewheeling side", "T_sink + R_th·(its losses), iterated", common, func(o *outcome) float64 { return o.T.D }, "diode.r_th", "transistor.r_th", "t_sink", "cooling.t_j"),
	figure("t_sink", "T_sink", "K", false, "sink that the dies share", "given, or T_ambient + R_sink·(all losses in the dies)", common, func(o *outcome) float64 { return o.Sink }, "cooling.t_sink", "cooling.t_ambient", "cooling.r_th"),
	figure("loop_gain", "g", "1", false, "by how much a kelvin more at the junction comes back through the losses; 1 is thermal runaway", "R_th·dP/dT_j of the last step", derived, func(o *outcome) float64 { return o.Gain }, "tj_t", "tj_d"),
	figure("p_out", "P_out", "W", false, "power at the output", "buck, boost: V_out·I_out; half bridge: D·V·I; three-phase: 3·m·V/(2√2)·I·cos φ", derived, output, "converter.v_out", "converter.i_out", "converter.v_bus", "converter.i", "converter.m", "converter.cos_phi"),
	figure("eta", "η", "1", false, "efficiency by these losses alone", "P_out/(P_out + P)", derived, func(o *outcome) float64 { return output(o) / (output(o) + total(o)) }, "p_out", "p_total"),
}

// ofLeg is a figure of a leg with a direct current, which three-phase has none of.
func ofLeg(of func(o *outcome) float64) func(o *outcome) float64 {
	return func(o *outcome) float64 {
		if o.c.Kind == ThreePhase {
			return math.NaN()
		}
		return of(o)
	}
}

// ofThreePhase is a figure that only three-phase has.
func ofThreePhase(of func(o *outcome) float64) func(o *outcome) float64 {
	return func(o *outcome) float64 {
		if o.c.Kind != ThreePhase {
			return math.NaN()
		}
		return of(o)
	}
}

// total returns the sum of the parts that are known [W].
func total(o *outcome) float64 { return o.c.positions()*whole(o.Parts) + zeroNaN(gate(o)) }

// gate returns the power that charges the gates [W].
func gate(o *outcome) float64 {
	n := o.c.positions()
	if o.c.Kind != ThreePhase && o.c.Synchronous {
		n = 2
	}
	return n * o.c.Transistor.QGate * o.c.Transistor.VGate * o.f
}

// output returns the power at the output [W].
func output(o *outcome) float64 {
	c := o.c
	switch c.Kind {
	case ThreePhase:
		return 3 * c.M * c.V / (2 * math.Sqrt2) * c.I * c.CosPhi
	case HalfBridge:
		return c.Duty * c.V * c.I
	}
	return c.Vout * c.Iout
}

package plan

import (
	"math"
	"slices"

	"slewbook/dpt/result"
)

// Figure is one figure of the plan and how it is computed.
type Figure struct {
	result.PlanFigure
	of func(p *Point) float64 // NaN where an input is not known
}

const (
	derived = "derived from the circuit"
	common  = "common practice, no source"
)

func sorted(x []float64) []float64 { return slices.Sorted(slices.Values(x)) }

// Figures lists all figures of a point in the order of the tables: the only list,
// which tables, CSV, JSON and explanations follow.
var Figures = []Figure{
	{result.PlanFigure{Key: "v_bus", Symbol: "V", Unit: "V", Text: true, Help: "bus voltage wanted at the edges",
		Formula: "given", Inputs: []string{"plan.v_bus"}}, func(p *Point) float64 { return p.V }},
	{result.PlanFigure{Key: "i_off", Symbol: "I", Unit: "A", Text: true, Help: "load current wanted at the first turn-off",
		Formula: "given", Inputs: []string{"plan.i"}}, func(p *Point) float64 { return p.I }},
	{result.PlanFigure{Key: "tj", Symbol: "T_j", Unit: "K", Text: true, Help: "junction temperature",
		Formula: "given", Inputs: []string{"plan.tj"}}, func(p *Point) float64 { return p.Tj }},
	{result.PlanFigure{Key: "v_set", Symbol: "V_set", Unit: "V", Text: true, Help: "voltage to charge the bank to, so that the sag leaves the wanted voltage (plan.compensate)",
		Formula: "V_set: v(t_1) = V; without resistance √(V² + L·I²/C)", Inputs: []string{"v_bus", "i_off", "circuit.l_load", "circuit.c_bus", "inductor.r", "bank.esr", "device.r_on"}, Source: derived}, func(p *Point) float64 { return p.VSet }},
	{result.PlanFigure{Key: "t_1", Symbol: "t_1", Unit: "s", Text: true, Help: "width of the first pulse",
		Formula: "i(t_1) = I of the series circuit L, C, R; about L·I/V", Inputs: []string{"v_set", "i_off", "circuit.l_load", "circuit.c_bus", "inductor.r", "bank.esr", "device.r_on"}, Source: common}, func(p *Point) float64 { return p.T1 }},
	{result.PlanFigure{Key: "t_gap", Symbol: "t_gap", Unit: "s", Help: "from the first turn-off to the second turn-on",
		Formula: "given", Inputs: []string{"plan.gap"}}, func(p *Point) float64 { return p.bench.Gap }},
	{result.PlanFigure{Key: "t_2", Symbol: "t_2", Unit: "s", Help: "width of the second pulse",
		Formula: "given", Inputs: []string{"plan.width"}}, func(p *Point) float64 { return p.bench.Width }},
	{result.PlanFigure{Key: "v_sag", Symbol: "V_sag", Unit: "V", Text: true, Help: "fall of the bus during the first pulse",
		Formula: "V_set - v(t_1); about L·I²/(2·C·V)", Inputs: []string{"v_set", "t_1", "circuit.c_bus"}, Source: derived}, func(p *Point) float64 { return p.VSet - p.VOff }},
	{result.PlanFigure{Key: "v_off", Symbol: "V_off", Unit: "V", Help: "bus at the first turn-off and the second turn-on",
		Formula: "v(t_1)", Inputs: []string{"v_set", "t_1"}, Source: derived}, func(p *Point) float64 { return p.VOff }},
	{result.PlanFigure{Key: "v_gap", Symbol: "V_gap", Unit: "V", Help: "what v of the device reads in the gap: the bus with the forward voltage of the freewheeling device on top",
		Formula: "V_off + V_F", Inputs: []string{"v_off", "device.v_f"}, Source: derived}, func(p *Point) float64 { return p.VOff + p.bench.VF }},
	{result.PlanFigure{Key: "i_on", Symbol: "I_on", Unit: "A", Text: true, Help: "load current at the second turn-on",
		Formula: "(I + V_F/R)·exp(-R·t_gap/L) - V_F/R; I - V_F·t_gap/L without R", Inputs: []string{"i_off", "t_gap", "device.v_f", "inductor.r", "circuit.l_load"}, Source: common}, func(p *Point) float64 { return p.IOn }},
	{result.PlanFigure{Key: "i_end", Symbol: "I_end", Unit: "A", Text: true, Help: "load current at the end of the second pulse",
		Formula: "the series circuit from I_on and v(t_1), after t_2", Inputs: []string{"i_on", "v_off", "t_2"}, Source: derived}, func(p *Point) float64 { return p.IEnd }},
	{result.PlanFigure{Key: "i_drift", Symbol: "ΔI", Unit: "1", Help: "largest change of the load current in gap and second pulse, relative",
		Formula: "max(|I_on - I|, |I_end - I_on|)/I", Inputs: []string{"i_off", "i_on", "i_end"}, Source: derived}, func(p *Point) float64 { return max(math.Abs(p.IOn-p.IOff), math.Abs(p.IEnd-p.IOn)) / p.I }},
	{result.PlanFigure{Key: "v_peak", Symbol: "V_peak", Unit: "V", Text: true, Help: "expected peak voltage at the chip: after the first turn-off, without its ringing on top, or the charged bank before the first pulse",
		Formula: "max(V_set, V_off + (L_loop + L_package)·di/dt_off)", Inputs: []string{"v_set", "v_off", "circuit.l_loop", "device.l_package", "expect.didt_off"}, Source: common}, func(p *Point) float64 {
		return p.expectedPeak()
	}},
	{result.PlanFigure{Key: "v_dip", Symbol: "V_dip", Unit: "V", Help: "expected dip of v while the current rises at turn-on",
		Formula: "L_loop·di/dt_on", Inputs: []string{"circuit.l_loop", "expect.didt_on"}, Source: "lecture notes of a university course (text seen)"}, func(p *Point) float64 { return p.bench.LLoop * p.bench.DidtOn }},
	{result.PlanFigure{Key: "i_peak", Symbol: "I_peak", Unit: "A", Help: "expected peak current at the second turn-on: load and recovery of the freewheeling device, without the winding's charge",
		Formula: "I_on + I_rrm", Inputs: []string{"i_on", "expect.i_rrm"}, Source: common}, func(p *Point) float64 { return p.IOn + p.bench.IRrm }},
	{result.PlanFigure{Key: "dvdt", Symbol: "dv/dt", Unit: "V/s", Help: "largest slope of the voltage that is expected",
		Formula: "max(dv/dt_on, dv/dt_off)", Inputs: []string{"expect.dvdt_on", "expect.dvdt_off"}, Source: common}, func(p *Point) float64 { return most(p.bench.DvdtOn, p.bench.DvdtOff) }},
	{result.PlanFigure{Key: "didt", Symbol: "di/dt", Unit: "A/s", Help: "largest slope of the current that is expected",
		Formula: "max(di/dt_on, di/dt_off)", Inputs: []string{"expect.didt_on", "expect.didt_off"}, Source: common}, func(p *Point) float64 { return most(p.bench.DidtOn, p.bench.DidtOff) }},
	{result.PlanFigure{Key: "dvdt_crit", Symbol: "dv/dt_crit", Unit: "V/s", Help: "slope at which recovery and charging current through its body turn on the parasitic transistor of the freewheeling device",
		Formula: "(V_B/R_B - I_rrm)/C_DB", Inputs: []string{"device.v_base", "device.r_base", "device.c_base", "expect.i_rrm"}, Source: "worked example of a course on power devices (text seen)"}, func(p *Point) float64 {
		return (p.bench.VBase/p.bench.RBase - p.bench.IRrm) / p.bench.CBase
	}},
	{result.PlanFigure{Key: "e_bank", Symbol: "E_C", Unit: "J", Text: true, Help: "energy stored in the bank",
		Formula: "½·C·V_set²", Inputs: []string{"circuit.c_bus", "v_set"}, Source: derived}, func(p *Point) float64 { return p.bench.C * p.VSet * p.VSet / 2 }},
	{result.PlanFigure{Key: "e_load", Symbol: "E_L", Unit: "J", Help: "largest energy in the inductor",
		Formula: "½·L·max(I, I_end)²", Inputs: []string{"circuit.l_load", "i_off", "i_end"}, Source: derived}, func(p *Point) float64 { i := max(p.IOff, p.IEnd); return p.bench.L * i * i / 2 }},
	{result.PlanFigure{Key: "q_winding", Symbol: "Q_w", Unit: "C", Help: "charge of the winding, which shows as a spike of the current at turn-on",
		Formula: "C_w·V_off", Inputs: []string{"inductor.c_winding", "v_off"}, Source: common}, func(p *Point) float64 { return p.bench.CWinding * p.VOff }},
	{result.PlanFigure{Key: "t_bleed", Symbol: "t_bleed", Unit: "s", Help: "time the bleeder takes from V_set to the limit that was given",
		Formula: "R·C·ln(V_set/V_touch); 0 below it", Inputs: []string{"bank.r_bleed", "bank.v_touch", "circuit.c_bus", "v_set"}, Source: derived}, func(p *Point) float64 {
		return max(p.bench.Bleed*p.bench.C*math.Log(p.VSet/p.bench.VTouch), 0)
	}},
	{result.PlanFigure{Key: "p_supply", Symbol: "P_sup", Unit: "W", Help: "mean power the supply delivers",
		Formula: "½·C·(V_set² - V_end²)·rate + V_set²/R_bleed", Inputs: []string{"circuit.c_bus", "v_set", "plan.rate", "bank.r_bleed"}, Source: derived}, func(p *Point) float64 {
		b := p.bench
		bleed := 0.0
		if b.Bleed > 0 {
			bleed = p.VSet * p.VSet / b.Bleed
		}
		return b.C*(p.VSet*p.VSet-p.VEnd*p.VEnd)/2*b.Rate + bleed
	}},
	{result.PlanFigure{Key: "t_charge", Symbol: "t_charge", Unit: "s", Help: "time the supply takes to charge the bank again after a shot",
		Formula: "C·(V_set - V_end)/I_supply", Inputs: []string{"circuit.c_bus", "v_set", "supply.i_max"}, Source: derived}, func(p *Point) float64 {
		return p.bench.C * (p.VSet - p.VEnd) / p.bench.ISup
	}},
	{result.PlanFigure{Key: "e_cond", Symbol: "E_cond", Unit: "J", Help: "conduction energy of the first pulse",
		Formula: "⅓·I²·R_on·t_1", Inputs: []string{"i_off", "device.r_on", "t_1"}, Source: common}, func(p *Point) float64 {
		return p.conduction()
	}},
	{result.PlanFigure{Key: "dtj", Symbol: "ΔT_j", Unit: "K", Difference: true, Help: "rise of the junction by the conduction of the first pulse",
		Formula: "E_cond/t_1·Z_th(t_1), Z_th ∝ √t", Inputs: []string{"e_cond", "t_1", "device.z_th", "device.z_th_at"}, Source: "√t law of short pulses (secondary)"}, func(p *Point) float64 {
		return p.conduction() / p.T1 * p.bench.Zth * math.Sqrt(p.T1/p.bench.ZthAt)
	}},
	{result.PlanFigure{Key: "t_record", Symbol: "t_rec", Unit: "s", Help: "length of the record",
		Formula: "before + t_1 + t_gap + t_2 + after", Inputs: []string{"plan.before", "t_1", "t_gap", "t_2", "plan.after"}, Source: derived}, func(p *Point) float64 {
		return p.record()
	}},
	{result.PlanFigure{Key: "fs", Symbol: "f_s", Unit: "S/s", Text: true, Help: "sample rate: as fast as the memory holds the record",
		Formula: "min(f_s,max, depth/t_rec)", Inputs: []string{"scope.sample_rate", "scope.depth", "t_record"}, Source: derived}, func(p *Point) float64 {
		return least(p.bench.SampleRate, p.bench.Depth/p.record())
	}},
	{result.PlanFigure{Key: "fs_needed", Symbol: "f_s,min", Unit: "S/s", Text: true, Help: "sample rate that gives the fastest edge ten samples from 10 to 90 %",
		Formula: "10/t_edge", Inputs: []string{"t_edge"}, Source: common}, func(p *Point) float64 { return 10 / p.edge() }},
	{result.PlanFigure{Key: "t_edge", Symbol: "t_edge", Unit: "s", Help: "shortest expected transition from 10 to 90 %",
		Formula: "0.8·min(V/dv/dt, I/di/dt)", Inputs: []string{"v_bus", "i_off", "expect.dvdt_on", "expect.dvdt_off", "expect.didt_on", "expect.didt_off"}, Source: derived}, func(p *Point) float64 { return p.edge() }},
	{result.PlanFigure{Key: "bw_needed", Symbol: "BW_min", Unit: "Hz", Help: "bandwidth of a channel that lengthens that transition by 2 %",
		Formula: "0.35/(t_edge/5)", Inputs: []string{"t_edge"}, Source: "root-sum-square of Gaussian elements (text seen); 0.35 is one pole's"}, func(p *Point) float64 { return 0.35 * 5 / p.edge() }},
	{result.PlanFigure{Key: "t_added_v", Symbol: "Δt_v", Unit: "s", Help: "what the voltage channel adds to that transition",
		Formula: "√(t_edge² + (0.35/BW)²) - t_edge", Inputs: []string{"t_edge", "channel.vds.bandwidth"}, Source: "root-sum-square of Gaussian elements (text seen)"}, func(p *Point) float64 { return p.added(p.bench.V) }},
	{result.PlanFigure{Key: "t_added_i", Symbol: "Δt_i", Unit: "s", Help: "what the current channel adds to that transition",
		Formula: "√(t_edge² + (0.35/BW)²) - t_edge", Inputs: []string{"t_edge", "channel.id.bandwidth"}, Source: "root-sum-square of Gaussian elements (text seen)"}, func(p *Point) float64 { return p.added(p.bench.I) }},
	{result.PlanFigure{Key: "range_v", Symbol: "V_range", Unit: "V", Help: "range of the voltage channel above zero of which the expected peak takes 80 %",
		Formula: "V_peak/0.8", Inputs: []string{"v_peak"}, Source: common}, func(p *Point) float64 { return p.peak() / fullness }},
	{result.PlanFigure{Key: "range_i", Symbol: "I_range", Unit: "A", Help: "range of the current channel above zero of which the expected peak takes 80 %",
		Formula: "max(I, I_end, I_peak)/0.8", Inputs: []string{"i_off", "i_end", "i_peak"}, Source: common}, func(p *Point) float64 { return p.topCurrent() / fullness }},
	{result.PlanFigure{Key: "bits_v", Symbol: "bits_v", Unit: "", Help: "bits that the voltage fills of its range",
		Formula: "bits + log2(V_peak/range)", Inputs: []string{"channel.vds.bits", "channel.vds.range", "v_peak"}, Source: derived}, func(p *Point) float64 { return filled(p.bench.V, p.peak()) }},
	{result.PlanFigure{Key: "bits_i", Symbol: "bits_i", Unit: "", Help: "bits that the current fills of its range",
		Formula: "bits + log2(max(I, I_end, I_peak)/range)", Inputs: []string{"channel.id.bits", "channel.id.range", "i_off", "i_end", "i_peak"}, Source: derived}, func(p *Point) float64 { return filled(p.bench.I, p.topCurrent()) }},
	{result.PlanFigure{Key: "delay_tol_off", Symbol: "δτ_off", Unit: "s", Text: true, Help: "alignment that the wanted error of E_off needs",
		Formula: "δE/E·(t_i + t_v)/2 with full ramps", Inputs: []string{"plan.error", "v_bus", "i_off", "expect.dvdt_off", "expect.didt_off"}, Source: derived}, func(p *Point) float64 {
		return p.bench.Want * (p.V/p.bench.DvdtOff + p.I/p.bench.DidtOff) / 2
	}},
	{result.PlanFigure{Key: "delay_tol_on", Symbol: "δτ_on", Unit: "s", Text: true, Help: "alignment that the wanted error of E_on needs",
		Formula: "δE/E·(t_i + t_v)/2 with full ramps", Inputs: []string{"plan.error", "v_bus", "i_off", "expect.dvdt_on", "expect.didt_on"}, Source: derived}, func(p *Point) float64 {
		return p.bench.Want * (p.V/p.bench.DvdtOn + p.I/p.bench.DidtOn) / 2
	}},
}

// FindFigure returns the figure of that key.
func FindFigure(key string) (Figure, bool) {
	for _, f := range Figures {
		if f.Key == key {
			return f, true
		}
	}
	return Figure{}, false
}

// zero is x, or 0 where it is not known.
func zero(x float64) float64 {
	if math.IsNaN(x) {
		return 0
	}
	return x
}

// least is the smallest of the numbers that are known, NaN if none is.
func least(xs ...float64) float64 { return ofKnown(math.Min, xs) }

// most is the largest of the numbers that are known, NaN if none is.
func most(xs ...float64) float64 { return ofKnown(math.Max, xs) }

func ofKnown(pick func(a, b float64) float64, xs []float64) float64 {
	m := math.NaN()
	for _, x := range xs {
		switch {
		case math.IsNaN(x):
		case math.IsNaN(m):
			m = x
		default:
			m = pick(m, x)
		}
	}
	return m
}

// fullness is the share of a range that the expected peak is to take: the rest is for
// ringing on top of it.
const fullness = 0.8

// topCurrent is the largest current that is expected; without a known recovery that of
// the load.
func (p *Point) topCurrent() float64 {
	return most(p.IOff, p.IEnd, p.IOn+p.bench.IRrm)
}

func (p *Point) edge() float64 {
	b := p.bench
	return 0.8 * least(p.V/b.DvdtOn, p.V/b.DvdtOff, p.I/b.DidtOn, p.I/b.DidtOff)
}

func (p *Point) record() float64 {
	return p.bench.Before + p.T1 + p.bench.Gap + p.bench.Width + p.bench.After
}

func (p *Point) expectedPeak() float64 {
	return max(p.VSet, p.VOff+(p.bench.LLoop+zero(p.bench.LPack))*p.bench.DidtOff)
}

// peak is the expected peak, or the bus where nothing is known of the slope.
func (p *Point) peak() float64 {
	if v := p.expectedPeak(); !math.IsNaN(v) {
		return v
	}
	return p.VSet
}

func (p *Point) conduction() float64 {
	if p.bench.ROn == 0 {
		return math.NaN()
	}
	return p.IOff * p.IOff * p.bench.ROn * p.T1 / 3
}

func (p *Point) added(ch Probe) float64 {
	return math.Hypot(p.edge(), 0.35/ch.Bandwidth) - p.edge()
}

func filled(ch Probe, span float64) float64 {
	if ch.Bits == 0 {
		return math.NaN()
	}
	return float64(ch.Bits) + math.Log2(span/ch.Range)
}

// Value returns the figure of that key, NaN where it is not known. It panics for
// a key that is none of Figures.
func (p *Point) Value(key string) float64 {
	f, ok := FindFigure(key)
	if !ok {
		panic("plan: no figure " + key)
	}
	return f.of(p)
}

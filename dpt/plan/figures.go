package plan

import (
	"math"
	"slices"
)

// Figure is one figure of the plan: how it is called, what it is and how it is
// computed, and from which inputs. Figures is the only list.
type Figure struct {
	Key     string
	Symbol  string
	Unit    string // SI base unit
	Help    string
	Formula string
	Inputs  []string // keys of the set-up or of other figures
	Source  string
	Of      func(p *Point) float64 // NaN where an input is not known
}

const (
	derived = "derived from the circuit"
	common  = "common practice, no source"
)

func sorted(x []float64) []float64 { return slices.Sorted(slices.Values(x)) }

// Figures lists all figures of a point in the order of the tables.
var Figures = []Figure{
	{"v_bus", "V", "V", "bus voltage wanted at the edges", "given", []string{"plan.v_bus"}, "", func(p *Point) float64 { return p.V }},
	{"i_off", "I", "A", "load current wanted at the first turn-off", "given", []string{"plan.i"}, "", func(p *Point) float64 { return p.I }},
	{"tj", "T_j", "K", "junction temperature", "given", []string{"plan.tj"}, "", func(p *Point) float64 { return p.Tj }},
	{"v_set", "V_set", "V", "voltage to charge the bank to, so that the sag leaves the wanted voltage (plan.compensate)", "V_set: v(t_1) = V; without resistance √(V² + L·I²/C)", []string{"v_bus", "i_off", "circuit.l_load", "circuit.c_bus", "inductor.r", "bank.esr", "device.r_on"}, derived, func(p *Point) float64 { return p.VSet }},
	{"t_1", "t_1", "s", "width of the first pulse", "i(t_1) = I of the series circuit L, C, R; about L·I/V", []string{"v_set", "i_off", "circuit.l_load", "circuit.c_bus", "inductor.r", "bank.esr", "device.r_on"}, common, func(p *Point) float64 { return p.T1 }},
	{"t_gap", "t_gap", "s", "from the first turn-off to the second turn-on", "given", []string{"plan.gap"}, "", func(p *Point) float64 { return p.bench.Gap }},
	{"t_2", "t_2", "s", "width of the second pulse", "given", []string{"plan.width"}, "", func(p *Point) float64 { return p.bench.Width }},
	{"v_sag", "V_sag", "V", "fall of the bus during the first pulse", "V_set - v(t_1); about L·I²/(2·C·V)", []string{"v_set", "t_1", "circuit.c_bus"}, derived, func(p *Point) float64 { return p.VSet - p.VOff }},
	{"v_off", "V_off", "V", "bus at the first turn-off and the second turn-on", "v(t_1)", []string{"v_set", "t_1"}, derived, func(p *Point) float64 { return p.VOff }},
	{"v_gap", "V_gap", "V", "what v of the device reads in the gap: the bus with the forward voltage of the freewheeling device on top", "V_off + V_F", []string{"v_off", "device.v_f"}, derived, func(p *Point) float64 { return p.VOff + p.bench.VF }},
	{"i_on", "I_on", "A", "load current at the second turn-on", "(I + V_F/R)·exp(-R·t_gap/L) - V_F/R; I - V_F·t_gap/L without R", []string{"i_off", "t_gap", "device.v_f", "inductor.r", "circuit.l_load"}, common, func(p *Point) float64 { return p.IOn }},
	{"i_end", "I_end", "A", "load current at the end of the second pulse", "the series circuit from I_on and v(t_1), after t_2", []string{"i_on", "v_off", "t_2"}, derived, func(p *Point) float64 { return p.IEnd }},
	{"i_drift", "ΔI", "1", "largest change of the load current in gap and second pulse, relative", "max(|I_on - I|, |I_end - I_on|)/I", []string{"i_off", "i_on", "i_end"}, derived, func(p *Point) float64 { return max(math.Abs(p.IOn-p.IOff), math.Abs(p.IEnd-p.IOn)) / p.I }},
	{"v_peak", "V_peak", "V", "expected peak voltage at the chip after the first turn-off, without its ringing on top", "V_off + (L_loop + L_package)·di/dt_off", []string{"v_off", "circuit.l_loop", "device.l_package", "expect.didt_off"}, common, func(p *Point) float64 {
		return p.expectedPeak()
	}},
	{"v_dip", "V_dip", "V", "expected dip of v while the current rises at turn-on", "L_loop·di/dt_on", []string{"circuit.l_loop", "expect.didt_on"}, "lecture notes of a university course (text seen)", func(p *Point) float64 { return p.bench.LLoop * p.bench.DidtOn }},
	{"e_bank", "E_C", "J", "energy stored in the bank", "½·C·V_set²", []string{"circuit.c_bus", "v_set"}, derived, func(p *Point) float64 { return p.bench.C * p.VSet * p.VSet / 2 }},
	{"e_load", "E_L", "J", "largest energy in the inductor", "½·L·max(I, I_end)²", []string{"circuit.l_load", "i_off", "i_end"}, derived, func(p *Point) float64 { i := max(p.IOff, p.IEnd); return p.bench.L * i * i / 2 }},
	{"q_winding", "Q_w", "C", "charge of the winding, which shows as a spike of the current at turn-on", "C_w·V_off", []string{"inductor.c_winding", "v_off"}, common, func(p *Point) float64 { return p.bench.CWinding * p.VOff }},
	{"t_bleed", "t_bleed", "s", "time the bleeder takes from V_set to the limit that was given", "R·C·ln(V_set/V_touch)", []string{"bank.r_bleed", "bank.v_touch", "circuit.c_bus", "v_set"}, derived, func(p *Point) float64 {
		return p.bench.Bleed * p.bench.C * math.Log(p.VSet/p.bench.VTouch)
	}},
	{"p_supply", "P_sup", "W", "mean power the supply delivers", "½·C·(V_set² - V_end²)·rate + V_set²/R_bleed", []string{"circuit.c_bus", "v_set", "plan.rate", "bank.r_bleed"}, derived, func(p *Point) float64 {
		b := p.bench
		bleed := 0.0
		if b.Bleed > 0 {
			bleed = p.VSet * p.VSet / b.Bleed
		}
		return b.C*(p.VSet*p.VSet-p.VEnd*p.VEnd)/2*b.Rate + bleed
	}},
	{"t_charge", "t_charge", "s", "time the supply takes to charge the bank again after a shot", "C·(V_set - V_end)/I_supply", []string{"circuit.c_bus", "v_set", "supply.i_max"}, derived, func(p *Point) float64 {
		return p.bench.C * (p.VSet - p.VEnd) / p.bench.ISup
	}},
	{"e_cond", "E_cond", "J", "conduction energy of the first pulse", "⅓·I²·R_on·t_1", []string{"i_off", "device.r_on", "t_1"}, common, func(p *Point) float64 {
		return p.conduction()
	}},
	{"dtj", "ΔT_j", "K", "rise of the junction by the conduction of the first pulse", "E_cond/t_1·Z_th(t_1), Z_th ∝ √t", []string{"e_cond", "t_1", "device.z_th", "device.z_th_at"}, "√t law of short pulses (secondary)", func(p *Point) float64 {
		return p.conduction() / p.T1 * p.bench.Zth * math.Sqrt(p.T1/p.bench.ZthAt)
	}},
	{"t_record", "t_rec", "s", "length of the record", "before + t_1 + t_gap + t_2 + after", []string{"plan.before", "t_1", "t_gap", "t_2", "plan.after"}, derived, func(p *Point) float64 {
		return p.record()
	}},
	{"fs", "f_s", "1/s", "sample rate: as fast as the memory holds the record", "min(f_s,max, depth/t_rec)", []string{"scope.sample_rate", "scope.depth", "t_record"}, derived, func(p *Point) float64 {
		return least(p.bench.Rate0, p.bench.Depth/p.record())
	}},
	{"fs_needed", "f_s,min", "1/s", "sample rate that gives the fastest edge ten samples from 10 to 90 %", "10/t_edge", []string{"t_edge"}, common, func(p *Point) float64 { return 10 / p.edge() }},
	{"t_edge", "t_edge", "s", "shortest expected transition from 10 to 90 %", "0.8·min(V/dv/dt, I/di/dt)", []string{"v_bus", "i_off", "expect.dvdt_on", "expect.dvdt_off", "expect.didt_on", "expect.didt_off"}, derived, func(p *Point) float64 { return p.edge() }},
	{"bw_needed", "BW_min", "Hz", "bandwidth of a channel that lengthens that transition by 2 %", "0.35/(t_edge/5)", []string{"t_edge"}, "root-sum-square of Gaussian elements (text seen); 0.35 is one pole's", func(p *Point) float64 { return 0.35 * 5 / p.edge() }},
	{"t_added_v", "Δt_v", "s", "what the voltage channel adds to that transition", "√(t_edge² + (0.35/BW)²) - t_edge", []string{"t_edge", "channel.vds.bandwidth"}, "root-sum-square of Gaussian elements (text seen)", func(p *Point) float64 { return p.added(p.bench.V) }},
	{"t_added_i", "Δt_i", "s", "what the current channel adds to that transition", "√(t_edge² + (0.35/BW)²) - t_edge", []string{"t_edge", "channel.id.bandwidth"}, "root-sum-square of Gaussian elements (text seen)", func(p *Point) float64 { return p.added(p.bench.I) }},
	{"bits_v", "bits_v", "", "bits that the voltage fills of its range", "bits + log2(V_peak/range)", []string{"channel.vds.bits", "channel.vds.range", "v_peak"}, derived, func(p *Point) float64 { return filled(p.bench.V, p.peak()) }},
	{"bits_i", "bits_i", "", "bits that the current fills of its range", "bits + log2(max(I, I_end)/range)", []string{"channel.id.bits", "channel.id.range", "i_off", "i_end"}, derived, func(p *Point) float64 { return filled(p.bench.I, max(p.IOff, p.IEnd)) }},
	{"delay_tol_off", "δτ_off", "s", "alignment that the wanted error of E_off needs", "δE/E·(t_i + t_v)/2 with full ramps", []string{"plan.error", "v_bus", "i_off", "expect.dvdt_off", "expect.didt_off"}, derived, func(p *Point) float64 {
		return p.bench.Want * (p.V/p.bench.DvdtOff + p.I/p.bench.DidtOff) / 2
	}},
	{"delay_tol_on", "δτ_on", "s", "alignment that the wanted error of E_on needs", "δE/E·(t_i + t_v)/2 with full ramps", []string{"plan.error", "v_bus", "i_off", "expect.dvdt_on", "expect.didt_on"}, derived, func(p *Point) float64 {
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
func least(xs ...float64) float64 {
	m := math.NaN()
	for _, x := range xs {
		if !math.IsNaN(x) && !(m <= x) {
			m = x
		}
	}
	return m
}

func (p *Point) edge() float64 {
	b := p.bench
	return 0.8 * least(p.V/b.DvdtOn, p.V/b.DvdtOff, p.I/b.DidtOn, p.I/b.DidtOff)
}

func (p *Point) record() float64 {
	return p.bench.Before + p.T1 + p.bench.Gap + p.bench.Width + p.bench.After
}

func (p *Point) expectedPeak() float64 {
	return p.VOff + (p.bench.LLoop+zero(p.bench.LPack))*p.bench.DidtOff
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
	return f.Of(p)
}

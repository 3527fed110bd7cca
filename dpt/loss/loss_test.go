package loss

import (
	"errors"
	"fmt"
	"math"
	"regexp"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"slewbook/dpt/curve"
	"slewbook/dpt/result"
	"slewbook/dpt/uncertainty"
)

func near(t *testing.T, what string, got, want, rel float64) {
	t.Helper()
	if !(math.Abs(got-want) <= rel*math.Abs(want)) {
		t.Errorf("%s = %.8g, want %.8g within %g", what, got, want, rel)
	}
}

// grid is a quantity over current at one bus voltage; between its nodes it is linear.
// Each shared input moves it by that share of the value.
func grid(key string, v float64, currents []float64, e func(i float64) float64, shared map[string]float64) *curve.Grid {
	nan := curve.Num(math.NaN())
	g := &curve.Grid{Format: "slewbook-grid-1", Quantity: key, Unit: "J", Definition: "ideal ramps", Axes: curve.Axes{V: []curve.Num{curve.Num(v)}, Tj: []curve.Num{nan}, Rg: []curve.Num{nan}}}
	for _, i := range currents {
		g.Axes.I = append(g.Axes.I, curve.Num(i))
		g.Value = append(g.Value, curve.Num(e(i)))
	}
	for _, name := range []string{"gain of vds", "delay of id"} {
		if share, ok := shared[name]; ok {
			s := curve.Shared{SharedInput: curve.SharedInput{Source: name}}
			for _, e := range g.Value {
				s.Effect = append(s.Effect, curve.Num(share)*e)
			}
			g.Shared = append(g.Shared, s)
		}
	}
	for k := range g.Value {
		u := 0.0
		for _, s := range g.Shared {
			u = math.Hypot(u, float64(s.Effect[k]))
		}
		g.U = append(g.U, curve.Num(u))
	}
	return g
}

// ramps are the energies of ideal inductive edges: ½·V·I·t (closed form; also Erickson
// and Maksimovic, 4.5, secondary).
func ramps(v, tOn, tOff float64) Energies {
	half := func(t float64) func(float64) float64 { return func(i float64) float64 { return v * i * t / 2 } }
	return Energies{On: grid("e_on", v, []float64{0, 100}, half(tOn), nil), Off: grid("e_off", v, []float64{0, 100}, half(tOff), nil)}
}

func point(t *testing.T, c Converter, e Energies, opt ...curve.Variable) *result.Losses {
	t.Helper()
	l, err := Make(c, e, Options{Extrapolate: opt})
	if err != nil {
		t.Fatal(err)
	}
	if err := l.Points[0].Err; err != nil {
		t.Fatal(err)
	}
	return l
}

func halfBridge(v, i float64, f ...float64) Converter {
	c := New()
	c.Kind, c.V, c.I, c.Duty, c.Fsw, c.NoRecovery, c.Cooling.Tj = HalfBridge, v, i, 0.5, f, true, 400
	return c
}

// Inductive switching of 300 V, 4 A with t_ri 100, t_fv 50, t_rv 100, t_fi 200 ns loses
// 6.75 W at 25 kHz and 27 W at 100 kHz; resistive switching of 450 ns in all
// loses 9 W at 100 kHz (Mohan, Undeland, Robbins, problems 2-1 and 2-2, from memory; the
// arithmetic is ½·V·I·t·f and V·I·t·f/6).
func TestTextbookSwitching(t *testing.T) {
	l := point(t, halfBridge(300, 4, 25e3, 100e3), ramps(300, 150e-9, 300e-9))
	near(t, "25 kHz", l.Value(0, "p_total"), 6.75, 1e-12)
	near(t, "100 kHz", l.Value(1, "p_total"), 27, 1e-12)
	l = point(t, halfBridge(300, 4, 100e3), ramps(300, 150e-9/3, 300e-9/3))
	near(t, "resistive", l.Value(0, "p_total"), 9, 1e-12)
}

// A synchronous buck of 12 V, 3 A at 2 MHz with edges of 4 and 6 ns: switching 360 mW,
// dead times of 60 ns in all at 0.5 V 180 mW, high side 375 mW, gates 20 mW (an
// application note's expected values, secondary; 5 V out, 100 mΩ, and 5 V of 1 nC for
// each of two gates are what gives the last two, from memory).
func TestSynchronousBuck(t *testing.T) {
	c := New()
	c.Kind, c.Fsw, c.Vin, c.Vout, c.Iout = Buck, []float64{2e6}, 12, 5, 3
	c.Synchronous, c.Dead, c.NoRecovery, c.Cooling.Tj = true, 30e-9, true, 300
	c.Transistor.On = Characteristic{{Tj: 300, R: 0.1}}
	c.Diode.On = Characteristic{{Tj: 300, V0: 0.5}}
	c.Transistor.QGate, c.Transistor.VGate = 1e-9, 5
	l := point(t, c, ramps(12, 4e-9, 6e-9))
	near(t, "switching", l.Value(0, "p_on")+l.Value(0, "p_off"), 0.360, 1e-9)
	near(t, "dead time", l.Value(0, "p_dead"), 0.180, 1e-9)
	near(t, "high side", l.Value(0, "p_cond_t"), 0.375, 1e-9)
	near(t, "gates", l.Value(0, "p_gate"), 0.020, 1e-9)
	near(t, "low side", l.Value(0, "p_cond_d"), (1-5./12-2*30e-9*2e6)*9*0.1, 1e-9)
	near(t, "sum", l.Value(0, "p_total"), 0.360+0.180+0.375+0.020+l.Value(0, "p_cond_d"), 1e-9)
}

// A boost of 200 to 400 V and 10 A carries 20 A, D = ½, ripple V_in·D/(L·f) (closed
// form of a converter without loss, common practice).
func TestBoost(t *testing.T) {
	c := New()
	c.Kind, c.Fsw, c.Vin, c.Vout, c.Iout, c.L, c.NoRecovery, c.Cooling.Tj = Boost, []float64{50e3}, 200, 400, 10, 250e-6, true, 300
	l := point(t, c, ramps(400, 50e-9, 20e-9))
	ripple := 200 * 0.5 / (250e-6 * 50e3)
	near(t, "duty", l.Value(0, "duty"), 0.5, 1e-12)
	near(t, "valley", l.Value(0, "i_on"), 20-ripple/2, 1e-12)
	near(t, "peak", l.Value(0, "i_off"), 20+ripple/2, 1e-12)
	near(t, "P_on", l.Value(0, "p_on"), 400*(20-ripple/2)*50e-9/2*50e3, 1e-12)
}

// The mean of R·i² along a ramp is R·(I² + Δ²/12) (closed form), whatever straight lines
// describe R·i.
func TestRippleConduction(t *testing.T) {
	whole := Characteristic{{Tj: 300, R: 0.02}}
	knees := Characteristic{{Tj: 300, I: []float64{0, 3, 11, 60}, V: []float64{0, 0.06, 0.22, 1.2}}}
	for _, h := range []Characteristic{whole, knees} {
		p, out := h.power(20, 50, 300)
		near(t, "mean", p, 0.02*(35*35+30*30/12.), 1e-12)
		if out.I || out.Tj {
			t.Errorf("told as outside: %+v", out)
		}
	}
	p, _ := whole.power(-10, 20, 300) // ∫0..20 R·i²/30
	near(t, "part of a ramp", p, 0.02*20*20*20/3/30, 1e-12)
	if _, out := knees.power(20, 61, 400); !out.I || !out.Tj {
		t.Errorf("beyond the points: %+v", out)
	}
}

func threePhase(f float64) Converter {
	c := New()
	c.Kind, c.Fsw, c.V, c.I, c.M, c.CosPhi, c.Fout, c.Cooling.Tj = ThreePhase, []float64{f}, 600, 30, 0.85, 0.8, 50, 400
	c.Transistor.On = Characteristic{{Tj: 400, V0: 0.9, R: 0.02}}
	c.Diode.On = Characteristic{{Tj: 400, V0: 0.7, R: 0.015}}
	return c
}

// A sine of peak Î through E = a + bI + cI² loses a/2 + bÎ/π + cÎ²/4 a cycle and device
// (the mean of a half sine, derived; the 1/π is that of makers' manuals, from memory),
// through v = V0 + r·i what handbooks give with m and cos φ (from memory). The sum over
// the cycles comes to that as they get many, the closed form is that.
func TestThreePhase(t *testing.T) {
	a, b, c2 := 50e-6, 4e-6, 20e-9
	var nodes []float64
	for k := range 401 {
		nodes = append(nodes, float64(k)/4)
	}
	e := func(i float64) float64 { return a + b*i + c2*i*i }
	en := Energies{On: grid("e_on", 600, nodes, e, nil), Off: grid("e_off", 600, nodes, e, nil), Recovery: grid("e_rr", 600, nodes, e, nil)}
	peak := math.Sqrt2 * 30
	want := 6 * 40e3 * (a/2 + b*peak/math.Pi + c2*peak*peak/4)
	mc := 0.85 * 0.8
	condT := 6 * (0.9*peak*(1/(2*math.Pi)+mc/8) + 0.02*peak*peak*(1./8+mc/(3*math.Pi)))
	condD := 6 * (0.7*peak*(1/(2*math.Pi)-mc/8) + 0.015*peak*peak*(1./8-mc/(3*math.Pi)))
	l := point(t, threePhase(40e3), en)
	for _, key := range []string{"p_on", "p_off", "p_rr"} {
		near(t, key, l.Value(0, key), want, 2e-3) // an edge next to the zero of the sine counts or not, one of 400
	}
	near(t, "p_cond_t", l.Value(0, "p_cond_t"), condT, 1e-3)
	near(t, "p_cond_d", l.Value(0, "p_cond_d"), condD, 1e-3)
	near(t, "closed form", l.Value(0, "p_closed"), 3*want+condT+condD, 1e-5) // the grid is straight between nodes of 0.25 A
	if off := l.Value(0, "closed_off"); !(math.Abs(off) < 1e-3) {
		t.Errorf("closed form and cycles differ by %g", off)
	}
	near(t, "p_out", l.Value(0, "p_out"), 3*0.85*300/math.Sqrt2*30*0.8, 1e-12)
}

// With dead times, too, the closed form is that of the sum: the diode conducts for the
// channel.
func TestThreePhaseDead(t *testing.T) {
	c := threePhase(20e3)
	c.Synchronous, c.Dead = true, 1e-6
	en := Energies{On: grid("e_on", 600, []float64{0, 100}, func(i float64) float64 { return 4e-6 * i }, nil)}
	l := point(t, c, en)
	peak := math.Sqrt2 * 30
	near(t, "p_dead", l.Value(0, "p_dead"), 6*2*1e-6*20e3*(0.7*peak/math.Pi+0.015*peak*peak/4), 2e-3)
	if off := l.Value(0, "closed_off"); !(math.Abs(off) < 1e-3) {
		t.Errorf("closed form and cycles differ by %g", off)
	}
}

// The closed form misses what few cycles do, and an on-state that is no straight line.
func TestThreePhaseDiffers(t *testing.T) {
	en := Energies{On: grid("e_on", 600, []float64{0, 100}, func(i float64) float64 { return 4e-6 * i }, nil)}
	far := func(f float64) float64 {
		l := point(t, threePhase(f), en)
		return math.Abs(l.Value(0, "closed_off"))
	}
	if few, many := far(600), far(60e3); !(few > 20*many) {
		t.Errorf("12 cycles differ from the closed form by %g, 1200 by %g; expected the first to be much larger", few, many)
	}
}

// heated is a switch whose conduction rises with its temperature: r = R0·(1 + k(T-T0)).
func heated(i, r0, k, t0, rth float64) Converter {
	c := halfBridge(400, i, 20e3)
	c.Cooling = New().Cooling
	c.Cooling.TSink, c.Transistor.Rth, c.Diode.Rth = 350, rth, rth
	c.Transistor.On = Characteristic{{Tj: t0, R: r0}, {Tj: t0 + 100, R: r0 * (1 + 100*k)}}
	return c
}

// P = P0·(1 + k(T - T0)) and T = T_s + R_th·P meet at
// T = (T_s + R_th·P0·(1 - k·T0))/(1 - R_th·P0·k) (closed form); the loop's gain is
// R_th·P0·k, and from 1 on there is no such temperature: thermal runaway.
func TestThermal(t *testing.T) {
	const i, r0, k, t0, rth = 50.0, 0.02, 0.006, 300.0, 0.8
	e := ramps(400, 0, 0)
	l := point(t, heated(i, r0, k, t0, rth), e, curve.Temperature)
	p0 := 0.5 * i * i * r0
	want := (350 + rth*p0*(1-k*t0)) / (1 - rth*p0*k)
	near(t, "T_j", l.Value(0, "tj_t"), want, 1e-9)
	near(t, "P", l.Value(0, "p_cond_t"), p0*(1+k*(want-t0)), 1e-9)
	near(t, "gain", l.Value(0, "loop_gain"), rth*p0*k, 1e-4)

	hot := heated(i, r0, k, t0, 1.01/(p0*k))
	all, err := Make(hot, e, Options{Extrapolate: []curve.Variable{curve.Temperature}})
	if err != nil {
		t.Fatal(err)
	}
	if err := all.Points[0].Err; err == nil || !strings.Contains(err.Error(), "thermal runaway") {
		t.Errorf("a gain of 1.01: %v; expected thermal runaway", err)
	}
	if err := make1(hot, e).Err; !errors.Is(err, curve.ErrOutside) {
		t.Errorf("past the data: %v; expected a refusal", err)
	}
}

func make1(c Converter, e Energies) result.LossPoint {
	l, err := Make(c, e, Options{})
	if err != nil {
		panic(err)
	}
	return l.Points[0]
}

// A shared sink carries all dies: T_sink = T_a + R_s·ΣP (closed form), here without
// feedback.
func TestSharedSink(t *testing.T) {
	c := threePhase(10e3)
	c.Cooling = New().Cooling
	c.Cooling.TAmbient, c.Cooling.RthSink, c.Transistor.Rth, c.Diode.Rth = 310, 0.05, 0.4, 0.6
	c.Transistor.On, c.Diode.On = Characteristic{{Tj: 400, V0: 1}}, Characteristic{{Tj: 400, V0: 1}}
	en := ramps(600, 100e-9, 100e-9)
	en.Recovery = grid("e_rr", 600, []float64{0, 100}, func(i float64) float64 { return 1e-6 * i }, nil)
	l := point(t, c, en, curve.Temperature)
	sink := 310 + 0.05*l.Value(0, "p_total")
	near(t, "T_sink", l.Value(0, "t_sink"), sink, 1e-9)
	near(t, "T_j,T", l.Value(0, "tj_t"), sink+0.4*(l.Value(0, "p_on")+l.Value(0, "p_off")+l.Value(0, "p_cond_t"))/6, 1e-9)
	near(t, "T_j,D", l.Value(0, "tj_d"), sink+0.6*(l.Value(0, "p_rr")+l.Value(0, "p_cond_d"))/6, 1e-9)
}

// A gain that both energies share adds up, a delay that moves them against each other
// drops out (JCGM 100, 5.2.2 with r = ±1); with equal energies 2 % stay 2 %, not 1.4 %.
// Where the losses heat what loses them, an uncertainty grows by 1/(1 - gain).
func TestUncertainty(t *testing.T) {
	e := func(i float64) float64 { return 1e-5 * i }
	nodes := []float64{0, 100}
	en := Energies{On: grid("e_on", 400, nodes, e, map[string]float64{"gain of vds": 0.02, "delay of id": 0.05}),
		Off: grid("e_off", 400, nodes, e, map[string]float64{"gain of vds": 0.02, "delay of id": -0.05})}
	l := point(t, halfBridge(400, 50, 20e3), en)
	near(t, "u of the sum", uncertainty.Total(l.Budget(0, "p_total")), 0.02*l.Value(0, "p_total"), 1e-9)
	near(t, "u of P_on", uncertainty.Total(l.Budget(0, "p_on")), math.Hypot(0.02, 0.05)*l.Value(0, "p_on"), 1e-9)

	c := heated(50, 0.02, 0.006, 300, 0.8)
	en.Off = nil
	en.On = grid("e_on", 400, nodes, e, map[string]float64{"gain of vds": 0.02})
	l = point(t, c, en, curve.Temperature)
	gain := l.Value(0, "loop_gain")
	near(t, "u of T_j", uncertainty.Total(l.Budget(0, "tj_t")), 0.8*0.02*l.Value(0, "p_on")/(1-gain), 1e-4)
}

// Outside the data there is no number unless it is asked for, and then it is marked.
func TestRefuses(t *testing.T) {
	c := halfBridge(400, 150, 20e3)
	e := ramps(400, 50e-9, 50e-9)
	if err := make1(c, e).Err; !errors.Is(err, curve.ErrOutside) || !strings.Contains(err.Error(), "--extrapolate i") {
		t.Errorf("beyond the largest current: %v", err)
	}
	l := point(t, c, e, curve.Current)
	if p := l.Points[0]; len(p.Beyond) != 2 || p.Past != 1 || !(uncertainty.Total(l.Budget(0, "p_on")) > 0) {
		t.Errorf("extrapolated without a mark or u: %v, %g, %v", p.Beyond, p.Past, l.Budget(0, "p_on"))
	}
	c = halfBridge(500, 50, 20e3)
	if err := make1(c, e).Err; !errors.Is(err, curve.ErrOutside) {
		t.Errorf("another bus than the only one: %v", err)
	}
	c = halfBridge(400, 5, 20e3)
	c.L = 100e-6 // ripple of 50 A
	if err := make1(c, e).Err; err == nil || !strings.Contains(err.Error(), "no hard switching") {
		t.Errorf("a current that falls below zero: %v", err)
	}
	c = halfBridge(400, 50, 20e3)
	c.Transistor.On = Characteristic{{Tj: 300, R: 0.02}}
	if err := make1(c, e).Err; !errors.Is(err, curve.ErrOutside) {
		t.Errorf("an on-state of another temperature: %v", err)
	}
}

// Every figure tells its formula, its unit and its inputs, which are keys of the
// converter's file, grids, or other figures; and the file has those keys.
func TestFiguresAreExplained(t *testing.T) {
	grids := regexp.MustCompile(`^grids?( of e_(on|off|rr))?$`)
	for _, f := range Figures {
		if f.Formula == "" || f.Unit == "" || f.Help == "" || len(f.Inputs) == 0 || f.Formula != "given" && f.Source == "" {
			t.Errorf("%s: formula %q, unit %q, inputs %v, source %q", f.Key, f.Formula, f.Unit, f.Inputs, f.Source)
		}
		for _, in := range f.Inputs {
			if _, key := Unit(in); !isFigure(in) && !grids.MatchString(in) && !key {
				t.Errorf("%s: input %q is no figure, no grid and no key of a converter", f.Key, in)
			}
		}
	}
	for key, want := range map[string]string{"converter.l": "H", "converter.f_sw": "Hz", "converter.m": "1", "transistor.q_gate": "C", "diode.on": "", "diode.on.v_0": "V"} {
		if unit, known := Unit(key); !known || unit != want {
			t.Errorf("unit of %s: %q, %v; want %q", key, unit, known, want)
		}
	}
	for _, key := range Parts {
		if !isFigure(key) {
			t.Errorf("part %s is no figure", key)
		}
	}
}

// Dead times of three phases that leave no time to freewheel are refused too.
func TestDeadTimeOfThreePhases(t *testing.T) {
	c := threePhase(20e3)
	c.Synchronous, c.Dead = true, 12e-6
	if err := c.Validate(); err != nil {
		t.Error(err)
	}
	c.Dead = 13e-6
	if err := c.Validate(); err == nil || !strings.Contains(err.Error(), "longer than the freewheeling time at 20000 Hz") {
		t.Errorf("2 dead times of 13 µs in 50 µs: %v", err)
	}
}

// What is not known is not in the sum, and told.
func TestMissing(t *testing.T) {
	c := halfBridge(400, 50, 20e3)
	c.NoRecovery = false
	l := point(t, c, ramps(400, 50e-9, 50e-9))
	text := strings.Join(l.Points[0].Missing, "; ")
	for _, want := range []string{"p_rr: no grid of e_rr", "p_cond_t: transistor.on", "p_cond_d: diode.on", "p_gate", "ripple"} {
		if !strings.Contains(text, want) {
			t.Errorf("%q lacks %q", text, want)
		}
	}
	if x := l.Value(0, "p_rr"); !math.IsNaN(x) {
		t.Errorf("a recovery loss of %g without a grid", x)
	}
}

// converters draws converters with a direct current and their grids.
func converters(t *rapid.T) (Converter, Energies) {
	f := func(name string, lo, hi float64) float64 { return rapid.Float64Range(lo, hi).Draw(t, name) }
	v, i := f("v", 50, 1000), f("i", 5, 90)
	c := halfBridge(v, i, f("f", 1e3, 1e5))
	c.Duty = f("duty", 0.05, 0.95)
	c.Cooling = New().Cooling
	c.Cooling.TSink, c.Transistor.Rth, c.Diode.Rth = f("t", 280, 380), f("rth", 0.01, 0.5), f("rth_d", 0.01, 0.5)
	r := f("r", 0.1, 1) / i
	c.Transistor.On = Characteristic{{Tj: 250, R: r}, {Tj: 500, R: r * f("rise", 1, 2)}}
	c.Diode.On = Characteristic{{Tj: 250, V0: f("v_0", 0.2, 2), R: r}}
	e := ramps(v, f("t_on", 1e-9, 1e-7), f("t_off", 1e-9, 1e-7))
	c.NoRecovery = rapid.Bool().Draw(t, "schottky")
	if !c.NoRecovery {
		e.Recovery = grid("e_rr", v, []float64{0, 100}, func(x float64) float64 { return 1e-8 * v * x }, nil)
	}
	return c, e
}

// The parts add up, what leaves the dies as heat makes the temperatures, a higher
// frequency never loses less, and the largest frequency that keeps a temperature
// makes just that temperature.
func TestBalanceAndInverse(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c, e := converters(t)
		c.Fsw = append(c.Fsw, c.Fsw[0]*1.3)
		l, err := Make(c, e, Options{Extrapolate: curve.Variables})
		if err != nil {
			t.Fatal(err)
		}
		if l.Points[0].Err != nil || l.Points[1].Err != nil {
			t.Skip(l.Points[1].Err)
		}
		sum := 0.0
		for _, key := range l.Parts {
			sum += zeroNaN(l.Value(0, key))
		}
		if p := l.Value(0, "p_total"); math.Abs(sum-p) > 1e-12*p {
			t.Fatalf("parts add up to %g W, the sum says %g W", sum, p)
		}
		heat := (l.Value(0, "tj_t")-c.Cooling.TSink)/c.Transistor.Rth + (l.Value(0, "tj_d")-c.Cooling.TSink)/c.Diode.Rth
		if math.Abs(heat-sum) > 1e-6*sum {
			t.Fatalf("%g W through the thermal resistances, %g W lost", heat, sum)
		}
		if l.Value(1, "p_total") < l.Value(0, "p_total") {
			t.Fatalf("a higher frequency loses less: %g W after %g W", l.Value(1, "p_total"), l.Value(0, "p_total"))
		}
		if l.Value(0, "tj_t") < l.Value(0, "tj_d") {
			return // of the freewheeling side, which need not depend on the frequency
		}
		c.Cooling.TjMax = l.Value(0, "tj_t")
		if f := c.LargestFsw(e, Options{Extrapolate: curve.Variables}); math.Abs(f/c.Fsw[0]-1) > 1e-6 {
			t.Fatalf("the temperature of %g Hz is kept up to %g Hz", c.Fsw[0], f)
		}
	})
}

// A duty cycle is a ratio: in percent, or a plain number as m and cos_phi are. An
// uncertainty is in percent only.
func TestDutyIsNumberOrPercent(t *testing.T) {
	const text = "[converter]\nkind = \"half-bridge\"\nf_sw = [\"20 kHz\"]\nv_bus = \"600 V\"\ni = \"50 A\"\nduty = %s\n[cooling]\nt_j = \"100 °C\"\n[transistor]\n%s\n"
	for _, duty := range []string{"0.3", "\"30 %\""} {
		c, err := Parse("c.toml", fmt.Appendf(nil, text, duty, ""))
		if err != nil || math.Abs(c.Duty-0.3) > 1e-15 {
			t.Errorf("duty = %s: %g, %v", duty, c.Duty, err)
		}
	}
	for duty, device := range map[string]string{"30": "", "0.3": "u = 0.02"} {
		if c, err := Parse("c.toml", fmt.Appendf(nil, text, duty, device)); err == nil {
			t.Errorf("duty = %s, %s was taken: %g", duty, device, c.Duty)
		}
	}
}

func isFigure(key string) bool {
	return slices.ContainsFunc(Figures, func(f Figure) bool { return f.Key == key })
}

package plan

import (
	"math"
	"regexp"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// ideal is a bench without resistance, its bank so large that nothing sags.
func ideal(l, v, i float64) Bench {
	b := Default()
	b.Voltages, b.Currents = []float64{v}, []float64{i}
	b.L, b.C, b.Gap, b.Width = l, 1, 1e-6, 1e-6
	return b
}

func near(t *testing.T, what string, got, want, rel float64) {
	t.Helper()
	if !(math.Abs(got-want) <= rel*math.Abs(want)) {
		t.Errorf("%s = %.6g, want %.6g within %g", what, got, want, rel)
	}
}

// The test conditions of data sheets give inductance, current and voltage; the
// width follows (rows seen; the arithmetic is ours).
func TestFirstPulseOfSheets(t *testing.T) {
	for _, row := range []struct{ l, i, v, t1 float64 }{
		{65.7e-6, 75, 800, 6.16e-6},
		{142e-6, 20, 800, 3.55e-6},
		{200e-6, 20, 1200, 3.33e-6},
		{105e-6, 50, 1200, 4.375e-6},
		{1368e-6, 2, 1200, 2.28e-6},
	} {
		b := ideal(row.l, row.v, row.i)
		p := b.Point(row.v, row.i, math.NaN())
		near(t, "t_1", p.T1, row.t1, 0.002) // the rows are printed to three digits
	}
}

// Energy of bank and inductor: V1 = √(V0² - L·I²/C); 800 V, 65.7 µH, 75 A, 100 µF
// sag by 2.313 V (by hand; 2.310 V by the short formula).
func TestSag(t *testing.T) {
	b := ideal(65.7e-6, 800, 75)
	b.C, b.Compensate = 100e-6, false
	p := b.Point(800, 75, math.NaN())
	near(t, "sag", p.Value("v_sag"), 800-math.Sqrt(800*800-65.7e-6*75*75/100e-6), 1e-9)
	near(t, "sag", p.Value("v_sag"), 2.313, 3e-4)

	b.Compensate = true
	p = b.Point(800, 75, math.NaN())
	near(t, "v_off", p.VOff, 800, 1e-12)
	near(t, "v_set", p.VSet, math.Sqrt(800*800+65.7e-6*75*75/100e-6), 1e-9)
}

// A resistance alone: i = V/R·(1 - exp(-R·t/L)).
func TestResistiveRamp(t *testing.T) {
	r := ramp{l: 100e-6, c: 1e3, r: 0.5, v0: 400}
	for _, at := range []float64{1e-6, 50e-6, 400e-6} {
		i, _ := r.at(at)
		near(t, "i", i, 400/0.5*(1-math.Exp(-0.5*at/100e-6)), 1e-6)
	}
}

// Bank of 100 µF at 800 V: 32 J, and 25.9 s down to 60 V through 100 kΩ (by hand).
func TestStoredEnergyAndBleeder(t *testing.T) {
	b := ideal(65.7e-6, 800, 1e-3)
	b.C, b.Bleed, b.VTouch, b.Compensate = 100e-6, 100e3, 60, false
	p := b.Point(800, 1e-3, math.NaN())
	near(t, "e_bank", p.Value("e_bank"), 32, 1e-12)
	near(t, "t_bleed", p.Value("t_bleed"), 25.9, 1e-3)
}

// A sheet's di/dt of 4.29 kA/µs in 35 nH is a dip of 150.2 V, 25 % of 600 V, and
// 600 V at 45.7 kV/µs take 10.5 ns from 10 to 90 % (rows seen; arithmetic ours).
func TestSlopes(t *testing.T) {
	b := ideal(50e-6, 600, 50)
	b.LLoop, b.DidtOn, b.DvdtOff = 35e-9, 4.29e9, 45.7e9
	p := b.Point(600, 50, math.NaN())
	near(t, "v_dip", p.Value("v_dip"), 150.2, 1e-3)
	b.DidtOn = math.NaN()
	near(t, "t_edge", p.Value("t_edge"), 10.5e-9, 1e-3)
}

// 2 % of 800 V, 20 A edges of 20 and 20 ns need 0.4 ns: δE/E = 2τ/(t_i + t_v)
// (derived; 1 ns is 5 %).
func TestDelayTolerance(t *testing.T) {
	b := ideal(50e-6, 800, 20)
	b.DvdtOff, b.DidtOff = 800/20e-9, 20/20e-9
	p := b.Point(800, 20, math.NaN())
	near(t, "delay_tol_off", p.Value("delay_tol_off"), 0.4e-9, 1e-12)
}

// A body of 0.05 Ω with 200 pF to the drain carries 0.7 V at 14 A, of which 2 A are the
// recovery's: (14 - 2) A through 200 pF are 60 V/ns (a course's worked example, text
// seen). A faster edge than that breaks a limit.
func TestCriticalSlope(t *testing.T) {
	b := ideal(1e-3, 400, 20)
	b.RBase, b.CBase, b.IRrm, b.DvdtOff = 0.05, 200e-12, 2, 59.9e9
	p := b.Point(400, 20, math.NaN())
	near(t, "dvdt_crit", p.Value("dvdt_crit"), 60e9, 1e-12)
	near(t, "i_peak", p.Value("i_peak"), p.IOn+2, 1e-12)
	if broken := p.broken(); len(broken) > 0 {
		t.Errorf("59.9 V/ns breaks %v", broken)
	}
	b.DvdtOn = 60.1e9
	p = b.Point(400, 20, math.NaN())
	if broken := p.broken(); len(broken) != 1 || broken[0].Limit.Name != "dvdt_crit of the parasitic transistor" {
		t.Errorf("60.1 V/ns breaks %v", broken)
	}
}

// What recovery adds counts in range and bits of the current, not its lack.
func TestTopCurrent(t *testing.T) {
	b := ideal(1e-3, 400, 20)
	b.I = Probe{Range: 50, Bits: 12}
	p := b.Point(400, 20, math.NaN())
	near(t, "range_i", p.Value("range_i"), p.IEnd/0.8, 1e-12)
	b.IRrm = 60
	p = b.Point(400, 20, math.NaN())
	near(t, "range_i", p.Value("range_i"), (p.IOn+60)/0.8, 1e-12)
	if !(p.Value("bits_i") > 12) {
		t.Errorf("%g bits of 12 by 80 A in a range of 50 A", p.Value("bits_i"))
	}
}

// A ramp that its resistance damps by far neither overflows nor loses its digits: with
// R²C/L = 1e8 the current stands at V/R after some L/R, and falls with R·C from there
// (closed form of two exponentials far apart).
func TestOverdampedRamp(t *testing.T) {
	r := ramp{l: 1e-15, c: 200e-6, r: 22e-3, v0: 400}
	i, v := r.at(1e-6)
	want := 400 / 22e-3 * math.Exp(-1e-6/(22e-3*200e-6))
	near(t, "i", i, want, 1e-6)
	near(t, "v", v, 22e-3*want, 1e-6)
	b := ideal(1e-15, 400, 60)
	b.C, b.ROn, b.IMax, b.Width = 200e-6, 22e-3, 150, 1e-6
	p := b.Point(400, 60, math.NaN())
	if broken := p.broken(); !slices.ContainsFunc(broken, func(x Break) bool { return x.Limit.Key == "i_end" }) {
		t.Errorf("18 kA at the end of the second pulse: %v", broken)
	}
}

// What heating adds is in kelvin; a rise above what is left of the rating breaks it.
func TestHeatingInKelvin(t *testing.T) {
	b := ideal(1e-3, 400, 20)
	b.ROn, b.Zth, b.ZthAt, b.TjMax = 0.1, 10, 1e-6, 300
	p := b.Point(400, 20, 298)
	broken := p.broken()
	if len(broken) != 1 || !strings.Contains(broken[0].String(), " K is above device.tj_max = 2.000 K") {
		t.Errorf("%v", broken)
	}
}

func TestValidate(t *testing.T) {
	b := Default()
	b.L, b.Gap, b.Width, b.Settle = -1e-6, 100e-9, 1e-6, 200e-9
	b.Temperatures = []float64{300, 350, 300}
	err := b.Validate()
	if err == nil {
		t.Fatal("no error")
	}
	for _, want := range []string{"plan.v_bus is missing", "plan.i is missing", "circuit.l_load is -1e-06 H", "circuit.c_bus is missing", "plan.gap is 100 ns, but a turn-off", "plan.tj holds 300 twice"} {
		if !strings.Contains(err.Error(), want) {
			t.Errorf("%v\nlacks %q", err, want)
		}
	}
}

func TestUnreachable(t *testing.T) {
	b := ideal(1e-3, 100, 1000) // 500 J out of 0.5 mJ
	b.C, b.Compensate = 100e-9, false
	if p := b.Point(100, 1000, math.NaN()); !strings.Contains(p.Short, "cannot drive 1000 A") {
		t.Errorf("Short = %q", p.Short)
	}
}

// Beyond its saturation the inductor's ramp bends: no width is given for it, and the
// other figures that rest on it are not known either.
func TestSaturation(t *testing.T) {
	b := ideal(100e-6, 600, 90)
	b.LSat = 80
	p := b.Point(600, 90, math.NaN())
	if !strings.Contains(p.Short, "90 A is beyond the saturation of the inductor, inductor.i_sat = 80 A") || !math.IsNaN(p.T1) || !math.IsNaN(p.Value("v_sag")) || !math.IsNaN(p.Value("e_bank")) {
		t.Errorf("Short = %q, t_1 = %g", p.Short, p.T1)
	}
	if i := b.LargestI(600, math.NaN()); !(i < 80) || !(i > 80-600*b.Width/b.L-1) {
		t.Errorf("largest current %g A with a saturation at 80 A", i)
	}
}

// Every figure tells its formula, its unit and its inputs, which are keys of the set-up
// or other figures.
func TestFiguresAreExplained(t *testing.T) {
	setup := regexp.MustCompile(`^(plan|circuit|device|inductor|bank|supply|scope|expect|channel)\.[a-z_.]+$`)
	for _, f := range Figures {
		if f.Formula == "" || f.Unit == "" && !strings.HasPrefix(f.Key, "bits") || f.Help == "" || len(f.Inputs) == 0 || f.Formula != "given" && f.Source == "" {
			t.Errorf("%s: formula %q, unit %q, inputs %v, source %q", f.Key, f.Formula, f.Unit, f.Inputs, f.Source)
		}
		for _, in := range f.Inputs {
			if _, figure := FindFigure(in); !figure && !setup.MatchString(in) {
				t.Errorf("%s: input %q is neither a figure nor a key of the set-up", f.Key, in)
			}
		}
	}
}

// 0.5 mH at 20 A hold 100 mJ, ½·L·I² (a course's worked example of unclamped inductive
// switching, text seen).
func TestInductorEnergy(t *testing.T) {
	b := ideal(0.5e-3, 400, 20)
	b.Width = 1e-12
	p := b.Point(400, 20, math.NaN())
	near(t, "e_load", p.Value("e_load"), 100e-3, 1e-6)
}

// benches draws benches that can be planned.
func benches(t *rapid.T) (Bench, float64, float64) {
	f := func(name string, lo, hi float64) float64 {
		return math.Exp(rapid.Float64Range(math.Log(lo), math.Log(hi)).Draw(t, name))
	}
	v, i := f("v", 50, 3000), f("i", 1, 1000)
	b := Default()
	b.Voltages, b.Currents = []float64{v}, []float64{i}
	b.L = f("l", 5e-6, 1e-3)
	b.C = b.L * i * i / (v * v) * f("stiffness", 3, 300)
	b.LR, b.ESR, b.ROn = f("lr", 1e-4, 1e-2)*v/i, f("esr", 1e-4, 1e-2)*v/i, f("ron", 1e-4, 1e-2)*v/i
	b.VF = f("vf", 0.5, 4)
	b.Gap, b.Width = f("gap", 1e-7, 1e-5), f("width", 1e-7, 1e-5)
	b.Compensate = rapid.Bool().Draw(t, "compensate")
	return b, v, i
}

// What the bank gave is in the inductor and in the resistances.
func TestEnergyBalance(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b, v, i := benches(t)
		p := b.Point(v, i, math.NaN())
		if p.Short != "" {
			t.Skip(p.Short)
		}
		r := ramp{b.L, b.C, b.resistance(), p.VSet, 0}
		lost := 0.0
		const n = 2000
		for k := range n { // midpoint rule; i² is nearly a parabola
			x, _ := r.at((float64(k) + 0.5) / n * p.T1)
			lost += b.resistance() * x * x * p.T1 / n
		}
		gave := b.C / 2 * (p.VSet*p.VSet - p.VOff*p.VOff)
		kept := b.L / 2 * p.IOff * p.IOff
		if !(math.Abs(gave-kept-lost) <= 1e-6*gave) {
			t.Fatalf("bank gave %g J, inductor %g J, lost %g J", gave, kept, lost)
		}
		if b.Compensate && !(math.Abs(p.VOff-v) <= 1e-9*v) {
			t.Fatalf("compensated to %g V, want %g V", p.VOff, v)
		}
		if !(math.Abs(p.IOff-i) <= 1e-9*i) {
			t.Fatalf("current %g A, want %g A", p.IOff, i)
		}
	})
}

// A stiff bus and no resistance: V·t_2/L is what the second pulse adds, so 10 % of
// 50 A at 800 V and 1.2 µs need 192 µH; L·I²/(V_set² - V²) is the bank for 5 %.
func TestSmallest(t *testing.T) {
	b := ideal(40e-6, 800, 50)
	b.Width = 1.2e-6
	near(t, "smallest L", b.SmallestL(800, 50), 192e-6, 1e-6)
	near(t, "smallest C", b.SmallestC(800, 50), 40e-6*50*50/(840*840-800*800), 1e-6)
	b.IMax = 30
	b.L = 1e-3 // so that the drift does not bound
	near(t, "largest I", b.LargestI(800, math.NaN()), 30-800*1.2e-6/1e-3, 1e-6)
}

// The answers of the inverse questions are the edge between keeping and breaking.
func TestInverseQuestionsInvert(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b, v, i := benches(t)
		b.LR, b.ESR, b.ROn = 0, 0, 0
		if l := b.SmallestL(v, i); !math.IsNaN(l) {
			c := b
			c.L = l
			p := c.Point(v, i, math.NaN())
			if got := p.Value("i_drift"); !(math.Abs(got-b.DriftMax) <= 1e-6) {
				t.Fatalf("with the smallest inductor %g H the current changes by %g, want %g", l, got, b.DriftMax)
			}
		}
		if c := b.SmallestC(v, i); !math.IsNaN(c) {
			d := b
			d.C = c
			p := d.Point(v, i, math.NaN())
			if got := p.Value("v_sag") / v; !(math.Abs(got-b.SagMax) <= 1e-6) {
				t.Fatalf("with the smallest bank %g F the bus sags by %g, want %g", c, got, b.SagMax)
			}
		}
		b.IMax = 0.7 * i
		p := b.Point(v, i, math.NaN())
		if got := p.Breaks(); len(got) > 0 && !math.IsNaN(got[0].NearestI) {
			q := b.Point(v, got[0].NearestI, math.NaN())
			if len(q.broken()) > 0 {
				t.Fatalf("the nearest point %g A breaks %v", got[0].NearestI, q.broken())
			}
			q = b.Point(v, 1.0001*got[0].NearestI, math.NaN())
			if len(q.broken()) == 0 {
				t.Fatalf("a larger current than the nearest, %g A, keeps all limits too", got[0].NearestI)
			}
		}
	})
}

// 1180 V and 100 A of 100 µH from 8 µF: √(1180² + 100e-6·100²/8e-6) = 1231.8 V (by hand)
// stand across the device before the first pulse, whatever the loop adds after it.
func TestChargedBankAgainstRating(t *testing.T) {
	b := ideal(100e-6, 1180, 100)
	b.C, b.LLoop, b.DidtOff, b.VMax, b.VShare, b.DriftMax = 8e-6, 1e-9, 3e9, 1200, 1, 1
	p := b.Point(1180, 100, math.NaN())
	near(t, "v_set", p.VSet, 1231.8, 1e-4)
	near(t, "v_peak", p.Value("v_peak"), p.VSet, 1e-12)
	marked := func(p Point) map[string]bool {
		names := map[string]bool{}
		for _, l := range p.broken() {
			names[l.Limit.Key+" "+l.Limit.Name] = true
		}
		return names
	}
	if m := marked(p); !m["v_set device.v_max"] || !m["v_set plan.v_share of device.v_max"] || !m["v_peak plan.v_share of device.v_max"] {
		t.Errorf("1231.8 V of 1200 V breaks %v", m)
	}
	// √(1200² - 1180²) V of the bank's are left for the current: 61.7 A (by hand).
	near(t, "largest current", b.LargestI(1180, math.NaN()), math.Sqrt((1200*1200-1180*1180)*8e-6/100e-6), 1e-6)
	// What is known of the voltage is held against it without a slope.
	b.DidtOff, b.VShare = math.NaN(), 0.8
	p = b.Point(1000, 10, math.NaN())
	if m := marked(p); !m["v_set plan.v_share of device.v_max"] || m["v_set device.v_max"] {
		t.Errorf("1000 V of 80 %% of 1200 V breaks %v", m)
	}
}

// Ten samples of an edge of 800 V at 40 V/ns, 16 ns from 10 to 90 %, are 625 MS/s (by hand).
func TestSampleRate(t *testing.T) {
	b := ideal(1e-3, 800, 20)
	b.DvdtOff = 40e9
	for rate, breaks := range map[float64]bool{600e6: true, 650e6: false} {
		b.SampleRate = rate
		p := b.Point(800, 20, math.NaN())
		near(t, "fs_needed", p.Value("fs_needed"), 625e6, 1e-12)
		if broken := p.broken(); len(broken) > 0 != breaks {
			t.Errorf("%g S/s breaks %v", rate, broken)
		}
	}
}

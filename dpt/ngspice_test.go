package dpt_test

import (
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"slewbook/dpt"
	"slewbook/dpt/result"
	"slewbook/waveform"
	"slewbook/waveform/format"
)

// ngspiceDir holds our netlists of half bridges with what ngspice made of them:
// a capture and the answers of its own meas commands. Its README tells how.
const ngspiceDir = "../testdata/ngspice"

// simulated is one circuit's answers as ngspice gave them.
type simulated struct {
	Simulator  string             `json:"simulator"`
	Netlist    string             `json:"netlist_sha256"`
	Commands   string             `json:"measure_sha256"`
	Capture    string             `json:"capture_sha256"`
	Device     dpt.Device         `json:"device"`
	Inductor   float64            `json:"l_load"`     // as written in the netlist [H]
	Quantities map[string]answer  `json:"quantities"` // by key
	Instants   map[string]float64 `json:"instants"`   // first crossings: edge, signal, percent [s]
}

// answer is one value that ngspice's meas printed.
type answer struct {
	Value float64 `json:"value"`
	Unit  string  `json:"unit"`
}

// circuits lists the netlists.
var circuits = []string{"sic-800v", "gan-400v", "igbt-600v", "ideal-400v", "diode-400v"}

func readSimulated(t *testing.T, name string) simulated {
	t.Helper()
	b, err := os.ReadFile(filepath.Join(ngspiceDir, name+".json"))
	if err != nil {
		t.Fatal(err)
	}
	var s simulated
	if err := json.Unmarshal(b, &s); err != nil {
		t.Fatal(err)
	}
	return s
}

// measureSimulated measures a stored capture as a user's file is measured.
func measureSimulated(t *testing.T, name string, device dpt.Device) result.Shot {
	t.Helper()
	return measureSimulatedWith(t, name, func(o *dpt.Options) { o.Device = device })
}

// measureSimulatedWith does so with other options.
func measureSimulatedWith(t *testing.T, name string, change func(*dpt.Options)) result.Shot {
	t.Helper()
	sources, _, err := format.Find(filepath.Join(ngspiceDir, name+".csv.gz"), format.Options{})
	if err != nil {
		t.Fatal(err)
	}
	captures, err := sources[0].Read()
	if err != nil {
		t.Fatal(err)
	}
	opt := dpt.Defaults()
	opt.AllWindows = true
	change(&opt)
	shot, err := dpt.Measure(captures[0], opt)
	if err != nil {
		t.Fatal(err)
	}
	return shot
}

// allowance returns how far a measured quantity may be from the simulator's,
// relative to it. dt is the sample interval, span what the quantity was read
// on.
//
// The simulator measures on steps of a fifth of dt and less; the capture has
// one sample every dt, with straight lines between. On an edge of n samples
// that bends by as much as it is high this costs 1/n² of a time, half of it of
// an energy. A peak may lie half a sample from the next one, which costs (π/n)²/2
// of a ring with n samples a period: 40 at 125 MHz and 0.2 ns.
func allowance(key string, dt float64, span waveform.Interval) float64 {
	n := span.Duration() / dt
	switch {
	case key == "l_load":
		return 3e-3 // the bus sags during the ramp, which a straight line averages
	case key == "i_rrm":
		return 1e-2 // the top lies up to half a sample from the next one, on a ramp of 1.25 A/ns
	case key == "q_rr":
		return 3e-3 // the load line is continued through the edge, and less of the top is seen
	case strings.HasPrefix(key, "e_"):
		return 1e-3 + 0.5/(n*n)
	case strings.HasPrefix(key, "t"), strings.HasPrefix(key, "d"):
		return 1e-3 + 1/(n*n)
	case strings.HasSuffix(key, "peak"):
		return 3e-3
	case strings.HasPrefix(key, "i_"):
		return 5e-4 // the load line is continued through the edge
	}
	return 5e-4 // settled levels
}

// Half bridges that ngspice simulated, measured by slewbook from samples as a
// scope has them, against what ngspice's own meas commands read off its full
// solution: levels, times, slopes, energies of every named window, peaks.
func TestNgspice(t *testing.T) {
	for _, name := range circuits {
		t.Run(name, func(t *testing.T) {
			want := readSimulated(t, name)
			shot := measureSimulated(t, name, want.Device)
			dt := shot.Traces[result.Vds].Dt
			want.Quantities["l_load"] = answer{want.Inductor, "H"}
			for key, a := range want.Quantities {
				m := shot.Quantity(key)
				if m == nil {
					t.Errorf("%s: not reported", key)
					continue
				}
				if m.Unit != a.Unit {
					t.Errorf("%s: unit %q, ngspice's answer is in %q", key, m.Unit, a.Unit)
				}
				span := m.Over
				if q := shot.Quantity(slopeOf[key]); q != nil {
					span = q.Over
				}
				tol := allowance(key, dt, span) * math.Abs(a.Value)
				if strings.HasSuffix(key, "overshoot") { // relative to the base, as the peak's error is
					tol = allowance("v_peak", dt, span) * (1 + a.Value)
				}
				if !(math.Abs(m.Value-a.Value) <= tol) {
					t.Errorf("%s = %.6g %s, ngspice %.6g: off by %.2g %%, allowed %.2g %% %v",
						key, m.Value, m.Unit, a.Value, 100*(m.Value/a.Value-1), 100*tol/math.Abs(a.Value), m.Warnings)
				}
			}
		})
	}
}

// slopeOf names the duration that an average slope is taken over.
var slopeOf = map[string]string{"dvdt_off": "t_rise_v", "didt_off": "t_fall_i", "dvdt_on": "t_fall_v", "didt_on": "t_rise_i"}

// The ends of the windows, too, are where ngspice finds them: within a fifth of
// a sample, since a straight line between two samples is off a curved edge by
// an eighth of what the edge bends in one interval.
func TestNgspiceInstants(t *testing.T) {
	ends := map[string][2]string{
		"e_off.v10-i2": {"off_v10", "off_i2"}, "e_off.g90-i2": {"off_g90", "off_i2"}, "e_off.v10-i10": {"off_v10", "off_i10"},
		"e_on.i10-v2": {"on_i10", "on_v2"}, "e_on.g10-v2": {"on_g10", "on_v2"}, "e_on.i10-v10": {"on_i10", "on_v10"},
		"t_rise_v": {"off_v10", "off_v90"}, "t_fall_i": {"off_i90", "off_i10"},
		"t_rise_i": {"on_i10", "on_i90"}, "t_fall_v": {"on_v90", "on_v10"},
	}
	for _, name := range circuits {
		t.Run(name, func(t *testing.T) {
			want := readSimulated(t, name)
			shot := measureSimulated(t, name, want.Device)
			tol := 0.2 * shot.Traces[result.Vds].Dt
			for key, end := range ends {
				m := shot.Quantity(key)
				for k, got := range []float64{m.Over.From, m.Over.To} {
					exact, ok := want.Instants[end[k]]
					if !ok {
						t.Fatalf("the stored answers lack %s", end[k])
					}
					if !(math.Abs(got-exact) <= tol) {
						t.Errorf("%s: %s at %.6f ns, ngspice %.6f ns, allowed ±%.3g ns", key, end[k], got*1e9, exact*1e9, tol*1e9)
					}
				}
			}
		})
	}
}

// The ideal circuit has the closed form of the handbooks, ramps of voltage and
// current one after the other: ½·V·I·t_v with t_v = V·C_gd/I_g, then the current
// with t_i = I·C/(g_m·I_g). When the voltage is clamped C_gd carries no current
// any longer, so that the drain current drops by I_g before its ramp.
func TestNgspiceIdealClosedForm(t *testing.T) {
	const (
		v, ig, gm = 400.0, 0.5, 5.0
		cgd, cgs  = 100e-12, 1.9e-9
	)
	shot := measureSimulated(t, "ideal-400v", dpt.MOSFET)
	i := shot.Quantity("i_off").Value
	tv, ti := v*cgd/ig, i*(cgs+cgd)/(gm*ig)
	for key, want := range map[string]float64{
		"t_rise_v":      0.8 * tv,
		"t_fall_i":      0.8 * ti,
		"e_off.v10-i10": v/2*i*tv*(1-0.01) + v/2*ti/i*((i-ig)*(i-ig)-0.01*i*i),
	} {
		// The load current rises by 0.4 % in all while the voltage does.
		if got := shot.Quantity(key).Value; !(math.Abs(got/want-1) < 2e-3) {
			t.Errorf("%s = %.6g, closed form %.6g", key, got, want)
		}
	}
}

// The recovery of a diode whose charge is τ times its current, Q = τ·i, has a closed
// form where a ramp of slope a takes the current from I on (charge-control equation
// dQ/dt = i - Q/τ of the handbooks of power electronics):
//
//	Q(t) = τ(I + aτ) - aτt - aτ²·exp(-t/τ) = 0 at t1, I_RRM = a·t1 - I, Q_rr = I_RRM²/2a
//
// since this one blocks at once when its charge is gone. Its junction holds 1 pF, 0.4 nC.
func TestNgspiceRecoveryClosedForm(t *testing.T) {
	const a, tau = 1.25e9, 20e-9 // as in the netlist: 5 A/V, 0.5 A into 2 nF
	shot := measureSimulated(t, "diode-400v", dpt.MOSFET)
	i := shot.Quantity("i_on").Value
	lo, hi := i/a, i/a+10*tau
	for range 60 {
		mid := (lo + hi) / 2
		if tau*(i+a*tau)-a*tau*mid-a*tau*tau*math.Exp(-mid/tau) > 0 {
			lo = mid
		} else {
			hi = mid
		}
	}
	peak := a*lo - i
	// The load current grows by 0.4 A meanwhile, and a sample may miss the top by 0.16 A.
	for key, want := range map[string]float64{"i_rrm": peak, "q_rr": peak * peak / (2 * a)} {
		if got := shot.Quantity(key).Value; !(math.Abs(got/want-1) < 0.02) {
			t.Errorf("%s = %.4g, closed form %.4g", key, got, want)
		}
	}
}

// Each way to the loop inductance on circuits whose inductances stand in the netlists:
// outside the sense points lie Lloop and the partner's leads; the ringing has the
// device's own leads in it as well. Capacitances at the bus voltage are those of the
// netlists' junctions, cjo/(1 + v/vj)^m, of drain and source and of gate and drain. Help and README state what is found here.
func TestNgspiceLoop(t *testing.T) {
	junction := func(cjo, v, vj, m float64) float64 { return cjo / math.Pow(1+v/vj, m) }
	for _, c := range []struct {
		name         string
		device       dpt.Device
		loop, pack   float64 // [H]
		coss         float64 // [F]
		dip, over, r float64 // allowed, relative
	}{
		{"sic-800v", dpt.MOSFET, 20e-9 + 6e-9, 6e-9, junction(0.9e-9, 800, 1.2, 0.45) + junction(0.3e-9, 804, 5, 0.5), 0.01, 0.03, 0.02},
		{"gan-400v", dpt.MOSFET, 4e-9 + 0.6e-9, 0.6e-9, junction(200e-12, 400, 20, 0.45) + junction(25e-12, 403, 8, 0.7), 0.02, 0.04, 0.03},
		{"igbt-600v", dpt.IGBT, 60e-9 + 10e-9, 10e-9, junction(1.2e-9, 600, 0.8, 0.45) + junction(0.9e-9, 608, 4, 0.5), 0.01, 0.03, 0.05},
	} {
		shot := measureSimulatedWith(t, c.name, func(o *dpt.Options) {
			o.Device = c.device
			o.Given.CRing, o.Given.LPackage = c.coss, c.pack
		})
		// The overshoot reads low: while v rises, part of the current is that of
		// capacitances beside the device and does not pass the sensor.
		for key, allowed := range map[string][2]float64{"l_loop": {-c.dip, c.dip}, "l_loop_overshoot": {-c.over, 0}, "l_loop_ring": {-c.r, c.r}} {
			m := shot.Quantity(key)
			if off := m.Value/c.loop - 1; !(off >= allowed[0] && off <= allowed[1]) {
				t.Errorf("%s: %s = %.4g H, netlist %.4g H: %+.1f %%, allowed %v", c.name, key, m.Value, c.loop, 100*off, allowed)
			}
		}
	}
}

package dpt_test

import (
	"fmt"
	"math"
	"testing"

	"slewbook/dpt"
	"slewbook/dpt/condition"
	"slewbook/dpt/result"
	"slewbook/waveform"
	"slewbook/waveform/wavetest"
)

// A recovery triangle has Q_rr = ½·t_rr·I_RRM (data-sheet
// rows of this kind, and the makers' definition, text seen). On top of the current's rise
// it starts where i passes the load current, and rises on with the same slope.
func TestRecoveryTriangle(t *testing.T) {
	d := wavetest.Example()
	d.Irrm, d.Tb, d.LLoad = 12, 15e-9, 1e-3
	const dt = 0.1e-9
	opt := dpt.Defaults()
	opt.Align = dpt.AlignOff
	shot, err := dpt.Measure(d.Capture(dt, -lead+wavetest.OffGrid(dt, 2)), opt)
	if err != nil {
		t.Fatal(err)
	}
	rise := 12 / (20 / d.OnTi)
	for key, want := range map[string]float64{"i_rrm": 12, "t_rr": rise + 15e-9, "q_rr": 12 * (rise + 15e-9) / 2} {
		// The load current at the edge is known to half a per cent of this.
		if m := shot.Quantity(key); !(math.Abs(m.Value-want) <= 0.01*want) {
			t.Errorf("%s = %.5g, expected %.5g %v", key, m.Value, want, m.Warnings)
		}
	}
}

// Frequency and damping of a decaying oscillation in closed form; a log decrement
// of 0.6315 is ζ = 0.1 (derived).
func TestRinging(t *testing.T) {
	for _, zeta := range []float64{0.01, 0.03, 0.06} {
		d := wavetest.Example()
		d.LLoop = 0
		d.RingV = wavetest.Ring{Amplitude: 150, F: 40e6, Zeta: zeta}
		d.ChV.Noise, d.Seed = 1, 3
		opt := dpt.Defaults()
		opt.Align = dpt.AlignOff
		shot, err := dpt.Measure(d.Capture(0.5e-9, -lead), opt)
		if err != nil {
			t.Fatal(err)
		}
		f, z := shot.Quantity("f_ring_off"), shot.Quantity("zeta_off")
		if !(math.Abs(f.Value-40e6) <= 3*f.U) || !(f.U < 0.01*40e6) {
			t.Errorf("ζ = %g: f = %.5g ± %.2g Hz %v", zeta, f.Value, f.U, f.Warnings)
		}
		if !(math.Abs(z.Value-zeta) <= 3*z.U+1e-4) || !(z.U < 0.2*zeta) {
			t.Errorf("ζ = %g found as %.4g ± %.2g %v", zeta, z.Value, z.U, z.Warnings)
		}
	}
}

// The end rules on a recovery that falls exponentially with the time constant τ
// end at these multiples of τ after the peak (rules: JEDEC dictionary and makers'
// sheets, text seen; multiples: derived). A triangle cannot
// tell them apart. The charge up to each end has a closed form as well.
func TestRecoveryEndRules(t *testing.T) {
	const tau = 10e-9
	c, tail := exponentialRecovery(0.1e-9, tau)
	opt := dpt.Defaults()
	opt.Align = dpt.AlignOff
	read := dpt.Readings(t, c, opt)
	ta := tail.Ta()
	for name, end := range map[string]float64{"line-75-50": 1.504, "line-90-25": 1.879, "i25": 1.386, "i10": 2.303, "i2": 3.912} {
		for key, want := range map[string]float64{"t_rr." + name: ta + end*tau, "q_rr." + name: tail.QrrUntil(end * tau), "s_rr." + name: end * tau / ta} {
			// Straight lines between 100 samples a time constant: 1e-4 of it.
			if m := read[key]; !(math.Abs(m.Value-want) <= 0.001*want) || !(m.U > 0) {
				t.Errorf("%s = %.5g ± %.2g, expected %.5g %v", key, m.Value, m.U, want, m.Warnings)
			}
		}
	}
	for key, want := range map[string]float64{"didt_f": tail.Didt, "didt_rr": tail.Irrm / tau, "rrsf": tail.Didt * tau / tail.Irrm} {
		// The steepest slope is a line through 2.8 ns from the peak on: exp(-0.14) of it.
		if m := read[key]; !(math.Abs(m.Value-want) <= 0.15*want) || !(m.U > 0) {
			t.Errorf("%s = %.5g ± %.2g, expected %.5g %v", key, m.Value, m.U, want, m.Warnings)
		}
	}
}

// exponentialRecovery is a shot whose freewheeling device recovers with an exponential.
func exponentialRecovery(dt, tau float64) (*waveform.Capture, wavetest.RecoveryTail) {
	d := wavetest.Example()
	d.LLoop, d.LLoad = 0, 1e-3
	c := d.Capture(dt, -lead)
	meet := d.Answers(1, 2).Events[2].T - d.OnTv/2 // where the current has risen to the load current
	tail := wavetest.RecoveryTail{Start: meet, Didt: d.I / d.OnTi, Irrm: 12, Tau: tau}
	id := c.Trace("Id")
	for k := range id.Y {
		if at := id.Time(k); at >= tail.Start {
			id.Y[k] += tail.At(at)
		}
	}
	return c, tail
}

// A channel that is too slow for the recovery rounds its peak and all that follows from
// it; how much is in the uncertainty, whose 2.5-fold covers the truth, by whatever
// bandwidth. It does not move the load current: the charge keeps.
func TestRecoverySlowed(t *testing.T) {
	const tau = 10e-9
	for _, mhz := range []float64{300, 100, 50} {
		c, tail := exponentialRecovery(0.2e-9, tau)
		id := c.Trace("Id")
		slow, err := condition.Filter(id, fmt.Sprintf("gauss %g MHz", mhz))
		if err != nil {
			t.Fatal(err)
		}
		*id = *slow
		opt := dpt.Defaults()
		opt.Align = dpt.AlignOff
		opt.Channels = map[result.Role]dpt.Channel{result.Id: {Channel: condition.AsRead(), Bandwidth: mhz * 1e6}}
		read := dpt.Readings(t, c, opt)
		for key, want := range map[string]float64{"i_rrm": tail.Irrm, "didt_f": tail.Didt, "didt_rr": tail.Irrm / tau, "rrsf": tail.Didt * tau / tail.Irrm,
			"t_rr.i25": tail.Ta() + 1.386*tau, "t_rr.line-75-50": tail.Ta() + 1.504*tau, "s_rr.i25": 1.386 * tau / tail.Ta(), "q_rr.i2": tail.QrrUntil(3.912 * tau)} {
			if m := read[key]; !(math.Abs(m.Value-want) <= 2.5*m.U) || !(m.U < want) {
				t.Errorf("%g MHz: %s = %.5g ± %.2g, expected %.5g %v", mhz, key, m.Value, m.U, want, m.Warnings)
			}
		}
	}
}

// A ringing that does not decay until the next edge, or grows, is told (SiC half
// bridges can show it: Lemmon et al., IEEE TPEL 2013, from memory);
// one that decays is not, however slowly.
func TestRingGrowing(t *testing.T) {
	for _, tt := range []struct {
		alpha float64 // of the envelope exp(-alpha·t) [1/s]
		told  bool
	}{{0, true}, {-4e5, true}, {2e6, false}, {2e7, false}} {
		d := wavetest.Example()
		d.LLoop = 0
		d.ChV.Noise, d.Seed = 1, 3
		c := d.Capture(0.5e-9, -lead)
		off := d.Answers(1, 2).Events[1].T
		vds := c.Trace("Vds")
		for k := range vds.Y {
			if x := vds.Time(k) - off - 12e-9; x > 0 && x < d.Gap-0.1e-6 {
				vds.Y[k] += 40 * math.Exp(-tt.alpha*x) * math.Sin(2*math.Pi*40e6*x)
			}
		}
		opt := dpt.Defaults()
		opt.Align = dpt.AlignOff
		shot, err := dpt.Measure(c, opt)
		if err != nil {
			t.Fatal(err)
		}
		z := shot.Quantity("zeta_off")
		if math.Abs(z.Value-tt.alpha/(2*math.Pi*40e6)) > 3*z.U+1e-4 || hasCode(z.Warnings, waveform.RingGrowing) != tt.told {
			t.Errorf("α = %g: ζ = %.5f ± %.2g %v", tt.alpha, z.Value, z.U, z.Warnings)
		}
	}
}

// A strong damping leaves a period and a half of ringing above the noise, which is
// enough for a fit; noise alone gives no number.
func TestRingOfFewPeriods(t *testing.T) {
	for _, tt := range []struct{ amplitude, zeta float64 }{{8, 0.12}, {8, 0.28}, {0, 0.1}} {
		d := wavetest.Example()
		d.LLoop, d.Irrm, d.Tb = 0, 8, 10e-9
		d.RingI = wavetest.Ring{Amplitude: -tt.amplitude, F: 60e6, Zeta: tt.zeta}
		d.ChI.Noise, d.Seed = 0.03, 5
		shot := measureIdeal(t, d, 0.4e-9, -lead)
		f, z := shot.Quantity("f_ring_on"), shot.Quantity("zeta_on")
		if tt.amplitude == 0 {
			if !math.IsNaN(f.Value) || len(f.Warnings) == 0 {
				t.Errorf("of no ringing f = %g, %v", f.Value, f.Warnings)
			}
			continue
		}
		if math.Abs(f.Value-60e6) > 3*f.U+0.3e6 || math.Abs(z.Value-tt.zeta) > 3*z.U+0.005 || !(f.U < 0.05*60e6) {
			t.Errorf("ζ = %g: f = %.4g ± %.2g, ζ = %.4f ± %.2g %v", tt.zeta, f.Value, f.U, z.Value, z.U, f.Warnings)
		}
	}
}

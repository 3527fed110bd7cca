package dpt_test

import (
	"math"
	"testing"

	"slewbook/dpt"
	"slewbook/waveform/wavetest"
)

// A recovery triangle has Q_rr = ½·t_rr·I_RRM (trade-facts rank 5: data-sheet
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
// of 0.6315 is ζ = 0.1 (trade-facts 5, derived).
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

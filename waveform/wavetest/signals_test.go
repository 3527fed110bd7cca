package wavetest

import (
	"math"
	"testing"

	"slewbook/waveform"
)

// 10-90 %, 20-80 % and 40-60 % times and slope ratios of the three edges,
// derived from ln and the normal distribution's quantiles (tables of any
// statistics handbook: 1.28155, 0.84162, 0.25335).
func TestEdges(t *testing.T) {
	lin := LinearEdge{Low: 2, High: 10, Start: 1, Ramp: 1}
	pole := ExponentialEdge{Low: 2, High: 10, Start: 1, Tau: 1}
	gauss := GaussianEdge{Low: 2, High: 10, Mid: 1, Sigma: 1}
	for _, x := range []struct{ p, lin, pole, gauss float64 }{
		{0.1, 0.8, 2.1972, 2.5631}, {0.2, 0.6, 1.3863, 1.6832}, {0.4, 0.2, 0.4055, 0.5067},
	} {
		near(t, "linear", lin.Duration(x.p, 1-x.p), x.lin, 5e-5)
		near(t, "exponential", pole.Duration(x.p, 1-x.p), x.pole, 5e-5)
		near(t, "Gaussian", gauss.Duration(x.p, 1-x.p), x.gauss, 5e-5)
		for _, y := range []float64{lin.At(lin.Instant(x.p)), pole.At(pole.Instant(x.p)), gauss.At(gauss.Instant(x.p))} {
			near(t, "value at instant", y, 2+8*x.p, 1e-12)
		}
	}
	ratio := func(slope, d float64) float64 { return slope / (0.8 * 8 / d) }
	near(t, "slope ratio, linear", ratio(lin.MaxSlope(), lin.Duration(0.1, 0.9)), 1, 1e-12)
	near(t, "slope ratio, Gaussian", ratio(gauss.MaxSlope(), gauss.Duration(0.1, 0.9)), 1.278, 5e-4)
	near(t, "slope ratio, pole", ratio(pole.MaxSlope(), pole.Duration(0.1, 0.9)), 2.747, 5e-4)
}

// End rules of t_rr on an exponential tail, in units of its time constant, and
// printed rows of data sheets that define Q_rr as ½·t_rr·I_rrm: ST STD4NK50Z
// (260 ns, 7.2 A, 935 nC) and APT40GF120JRD (70 ns, 18 A, 630 nC).
func TestRecovery(t *testing.T) {
	tail := RecoveryTail{Didt: 1e300, Irrm: 1, Tau: 1}
	near(t, "75/50", tail.TrrLine(0.75, 0.50), 1.504, 5e-4)
	near(t, "90/25", tail.TrrLine(0.90, 0.25), 1.879, 5e-4)
	near(t, "75/25", tail.TrrLine(0.75, 0.25), 1.936, 5e-4)
	near(t, "25 %", tail.TrrLevel(0.25), 1.386, 5e-4)
	near(t, "10 %", tail.TrrLevel(0.10), 2.303, 5e-4)
	near(t, "2 %", tail.TrrLevel(0.02), 3.912, 5e-4)
	near(t, "charge in the end", tail.QrrUntil(40), tail.Qrr(), 1e-12)

	st := RecoveryTriangle{Didt: 100e6, Irrm: 7.2, Tb: 260e-9 - 72e-9}
	near(t, "ta", st.Ta(), 72e-9, 1e-15)
	near(t, "Qrr", st.Qrr(), 935e-9, 2e-9)
	apt := RecoveryTriangle{Didt: 1e9, Irrm: 18, Tb: 52e-9}
	near(t, "Qrr", apt.Qrr(), 630e-9, 1e-12)
}

// Log decrement and overshoot of a second-order system (any control handbook).
func TestRing(t *testing.T) {
	for _, x := range []struct{ zeta, delta, over float64 }{
		{0.05, 0.3146, 0.854}, {0.1, 0.6315, 0.729}, {0.2, 1.2825, 0.527}, {0.5, 3.628, 0.163},
	} {
		r := Ring{Amplitude: 3, Start: 1e-6, F: 50e6, Zeta: x.zeta}
		near(t, "decrement", r.LogDecrement(), x.delta, 5e-4)
		near(t, "overshoot", StepOvershoot(x.zeta), x.over, 5e-4)
		_, a := r.Peak(0)
		_, b := r.Peak(2)
		near(t, "ratio of maxima", math.Log(a/b), x.delta, 5e-4)
		tp, _ := r.Peak(1)
		near(t, "flat at the extreme", (r.At(tp+1e-12)-r.At(tp-1e-12))/2e-12, 0, 1e4)
	}
}

func TestInstruments(t *testing.T) {
	lin := LinearEdge{High: 1, Start: 0, Ramp: 1}
	tr := Sample(lin.At, "x", "V", 0.1, 0.25, 4)
	Quantise(tr, 2, waveform.Range{Min: 0, Max: 1})
	for k, want := range []float64{0.125, 0.375, 0.625, 0.875} {
		near(t, "quantised", tr.Y[k], want, 1e-12)
	}
	times := Jitter(0, 1, 1000, 0.2, 7)
	again := Jitter(0, 1, 1000, 0.2, 7)
	for k := range times {
		if times[k] != again[k] || k > 0 && times[k] <= times[k-1] {
			t.Fatalf("jittered time %d is %g after %g, and %g in the second run", k, times[k], times[max(k-1, 0)], again[k])
		}
	}
	if y := SampleAt(lin.At, times); y[0] != lin.At(times[0]) {
		t.Errorf("SampleAt: %g", y[0])
	}
	for k := range 50 {
		if x := OffGrid(1e-9, k); !(x >= 0 && x < 1e-9) {
			t.Errorf("OffGrid(1 ns, %d) = %g", k, x)
		}
	}
}

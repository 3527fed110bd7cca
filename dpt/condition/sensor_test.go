package condition_test

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"slewbook/dpt/condition"
	"slewbook/waveform"
	"slewbook/waveform/wavetest"
)

// sampled samples f at dt over n samples from t0 on.
func sampled(f func(t float64) float64, t0, dt float64, n int) *waveform.Trace {
	return wavetest.Sample(f, "CH3", "A", t0, dt, n)
}

// worst returns the largest difference of the trace from f where t >= from.
func worst(tr *waveform.Trace, f func(t float64) float64, from float64) float64 {
	w := 0.0
	for k, y := range tr.Y {
		if t := tr.Time(k); t >= from && !(math.Abs(y-f(t)) <= w) {
			w = math.Abs(y - f(t))
		}
	}
	return w
}

// Closed form: the current is at rest, ramps with s from t = 0, and stays at its
// top from t = d on. Over R and L it makes u/R = i + (L/R)·di/dt, a step of s·L/R
// on each corner. Steps fall between two samples, where the file has a straight
// line: that moves each by less than a sample, so the current is off by up to
// s·L/R·(dt/τ)/2 = s·dt/2 there, and by 5 nA elsewhere once that has died away.
func TestShuntOfRamp(t *testing.T) {
	const r, l, slope, rise = 10e-3, 1.2e-9, 2e9, 20e-9
	const tau = l / r // 120 ns: its 240 A step is six times the current of 40 A
	i := func(t float64) float64 { return slope * min(max(t, 0), rise) }
	asRead := func(t float64) float64 {
		if t > 0 && t < rise {
			return i(t) + tau*slope
		}
		return i(t)
	}
	for _, dt := range []float64{0.1e-9, 0.4e-9, 1e-9} {
		raw := sampled(asRead, -400e-9+0.37*dt, dt, int(2e-6/dt))
		if off := worst(raw, i, -1); off < 200 {
			t.Fatalf("the shunt's own voltage is only %g A: nothing to take out", off)
		}
		got := condition.Shunt(raw, r, l)
		if off := worst(got, i, -1); off > slope*dt/2*1.001 {
			t.Errorf("sampled every %g ns the current is off by %.3g A, expected %.3g at most", dt*1e9, off, slope*dt/2)
		}
		if off := worst(got, i, 1.5e-6); off > 1e-3 {
			t.Errorf("sampled every %g ns the current is off by %.3g A long after", dt*1e9, off)
		}
	}
}

// Straight stretches of u are solved exactly, for any ratio of interval to L/R:
// u/R = 1 + t/τ from t = 0 on rest at 1 has i = 1 + t/τ - 1 + e^(-t/τ).
func TestShuntIsExactForStraightLines(t *testing.T) {
	const tau = 100e-9
	for _, dt := range []float64{0.1e-9, 1e-9, 100e-9, 2e-6} {
		rest := int(max(tau/dt, 20)) // what the first current is read from
		raw := sampled(func(t float64) float64 { return 1 + max(t, 0)/tau }, -float64(rest)*dt, dt, rest+60)
		got := condition.Shunt(raw, 1, tau)
		want := func(t float64) float64 {
			x := max(t, 0) / tau
			return 1 + x + math.Expm1(-x)
		}
		if off := worst(got, want, -1); off > 1e-12*(1+60*dt/tau) {
			t.Errorf("sampled every %g s: off by %g", dt, off)
		}
	}
}

// No sample of the current is larger than the largest of u/R, whatever the noise
// and the sampling; and twice the voltage is twice the current.
func TestShuntProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		dt := math.Pow(10, rapid.Float64Range(-11, -8).Draw(t, "lg dt"))
		tau := math.Pow(10, rapid.Float64Range(-10, -6).Draw(t, "lg tau"))
		scale := rapid.Float64Range(-5, 5).Draw(t, "scale")
		rnd := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 0))
		raw := &waveform.Trace{Unit: "A", Dt: dt, Y: make([]float64, 400)}
		scaled := &waveform.Trace{Unit: "A", Dt: dt, Y: make([]float64, 400)}
		largest := 0.0
		for k := range raw.Y {
			raw.Y[k] = rnd.NormFloat64()
			scaled.Y[k] = scale * raw.Y[k]
			largest = max(largest, math.Abs(raw.Y[k]))
		}
		a, b := condition.Shunt(raw, 1e-3, 1e-3*tau), condition.Shunt(scaled, 1e-3, 1e-3*tau)
		for k, y := range a.Y {
			if math.Abs(y) > largest*(1+1e-12) {
				t.Fatalf("sample %d is %g, but no sample of the voltage is above %g", k, y, largest)
			}
			if math.Abs(b.Y[k]-scale*y) > 1e-12*largest*5 {
				t.Fatalf("sample %d of %g times the voltage is %g, expected %g", k, scale, b.Y[k], scale*y)
			}
		}
	})
}

// A sample over range hides what the current was: it is not known until the
// shunt has forgotten it, 10 L/R later, and then it is right.
func TestShuntOverRange(t *testing.T) {
	raw := sampled(func(float64) float64 { return 7 }, 0, 1e-9, 400)
	raw.Y[100], raw.Y[101] = math.Inf(1), math.NaN()
	got := condition.Shunt(raw, 1e-3, 10e-12) // 10 ns
	for k, y := range got.Y {
		known := k < 100 || k > 202
		if known && math.Abs(y-7) > 1e-12 || k > 100 && k < 201 && !math.IsNaN(y) {
			t.Errorf("sample %d is %g", k, y)
		}
	}
	if raw.Y[100] != math.Inf(1) || len(raw.Steps) != 0 {
		t.Error("the raw trace was changed")
	}
}

// A step and a ramp through a first-order high-pass come back. Closed forms: a
// step of I droops as I·e^(-t/τ), a ramp s·t as s·τ·(1 - e^(-t/τ)). The trapezoid
// rule is off by dt²/(12τ)·(the change of slope of y) each; the step itself falls
// between two samples, where its integral is off by half a sample, I·dt/(2τ).
func TestDroop(t *testing.T) {
	const tau, dt, zero = 50e-6, 2e-9, 0.3
	quiet := waveform.Interval{From: -2e-6, To: -0.2e-6}
	for _, c := range []struct {
		name         string
		sensed, true func(t float64) float64
		droops, tol  float64
	}{
		{"step", func(t float64) float64 { return 30 * math.Exp(-t/tau) }, func(float64) float64 { return 30 }, 5.4, 30 * dt / (2 * tau) * 1.01},
		{"ramp", func(t float64) float64 { return -4e6 * tau * math.Expm1(-t/tau) }, func(t float64) float64 { return 4e6 * t }, 3.7, 1e-7},
	} {
		after := func(f func(float64) float64) func(float64) float64 {
			return func(t float64) float64 {
				if t < 0 {
					return zero
				}
				return f(t) + zero
			}
		}
		raw := sampled(after(c.sensed), -2e-6+0.4*dt, dt, 6000)
		if off := worst(raw, after(c.true), 0); off < c.droops {
			t.Fatalf("%s: droops by %g A only", c.name, off)
		}
		got := condition.Droop(raw, tau, zero, quiet)
		if off := worst(got, after(c.true), -1); off > c.tol {
			t.Errorf("%s: off by %.3g A, expected %.3g at most", c.name, off, c.tol)
		}
		if s := got.Steps[0]; s.Kind != condition.DroopKind || s.Value != tau || s.Unit != "s" || len(raw.Steps) != 0 {
			t.Errorf("%s: steps %+v, raw %+v", c.name, got.Steps, raw.Steps)
		}
		// A zero that is off by z drifts away by z/τ.
		wrong := condition.Droop(raw, tau, zero+0.01, quiet)
		last := len(raw.Y) - 1
		if d := wrong.Y[last] - got.Y[last]; math.Abs(d+0.01*got.Span().Duration()/tau) > 1e-9 {
			t.Errorf("%s: a zero 10 mA off drifts by %g A", c.name, d)
		}
	}
}

// The drift that the step states is that of the zero's noise: over many records
// the end of the restored zero scatters by it, and by the random walk of the
// noise in the integral, which is as large for a zero read over a tenth.
func TestDroopDrift(t *testing.T) {
	const tau, dt, n, sigma, runs = 5e-6, 1e-9, 10000, 0.2, 200
	var ends []float64
	for seed := range uint64(runs) {
		rnd := rand.New(rand.NewPCG(seed, 1))
		raw := &waveform.Trace{Unit: "A", Dt: dt, Y: make([]float64, n)}
		for k := range raw.Y {
			raw.Y[k] = sigma * rnd.NormFloat64()
		}
		quiet := waveform.Interval{From: 0, To: n / 10 * dt}
		zero := waveform.Mean(raw.Samples(quiet))
		got := condition.Droop(raw, tau, zero, quiet)
		ends = append(ends, got.Y[n-1]-raw.Y[n-1])
		if want := "drifts to 0.013 A"; seed == 0 && !strings.Contains(got.Steps[0].Text, want) {
			t.Errorf("%q does not say %q", got.Steps[0].Text, want)
		}
	}
	// zero: 0.2/√1000·10 µs/5 µs = 12.6 mA; the walk lowers it by the share that is
	// in both: √(1/1000 - 1/10000)·σ·n·dt/τ = 12.0 mA. 200 runs know it to 5 %.
	if s := waveform.StdDev(ends); math.Abs(s-0.0120) > 4*0.05*0.0120 {
		t.Errorf("the ends scatter by %.4g A, expected 12.0 mA", s)
	}
}

// After a sample over range nothing is known of the integral.
func TestDroopOverRange(t *testing.T) {
	raw := sampled(func(float64) float64 { return 0 }, 0, 1e-9, 50)
	raw.Y[30] = math.Inf(-1)
	got := condition.Droop(raw, 1e-6, 0, waveform.Interval{From: 0, To: 20e-9})
	for k, y := range got.Y {
		if k < 30 && y != 0 || k >= 30 && !math.IsNaN(y) {
			t.Errorf("sample %d is %g", k, y)
		}
	}
}

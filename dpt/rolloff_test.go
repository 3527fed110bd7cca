package dpt

import (
	"math"
	"testing"
)

// At its -3 dB bandwidth the phase of a single pole is 45° and that of two poles of damping
// ratio 1/√2 is 90° (any handbook of circuits); slow signals are delayed by 1 and √2 over
// 2π·bandwidth. Far below it nothing is left open.
func TestRollOffDelay(t *testing.T) {
	if got, want := rollOffDelay(1), max(1-math.Pi/4, math.Pi/2-math.Sqrt2); math.Abs(got-want) > 1e-12 {
		t.Errorf("at the bandwidth: %g, want %g", got, want)
	}
	// √2x²/3 of the two poles leads at small x (series, derived).
	if got := rollOffDelay(0.05); math.Abs(got/(math.Sqrt2/3*0.05*0.05)-1) > 0.01 {
		t.Errorf("at a twentieth of it: %g", got)
	}
	if rollOffDelay(0) != 0 {
		t.Error("slow signals have a doubt")
	}
}

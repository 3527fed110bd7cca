package condition_test

import (
	"math"
	"testing"

	"slewbook/dpt/condition"
	"slewbook/waveform"
)

func TestApply(t *testing.T) {
	raw := &waveform.Trace{Name: "CH2", Unit: "V", T0: 1e-6, Dt: 1e-9, Y: []float64{1, 2, 3, 4}}
	got := condition.Apply(raw, condition.Channel{Scale: 100, Invert: true, Offset: 5, Delay: 2.5e-9, RangeMin: -10, RangeMax: 4})
	// y = -100·y - 5; the sample at the end of the range is over range, and stays
	// so under the sign change.
	want := []float64{-105, -205, -305, math.Inf(-1)}
	for k, y := range want {
		if got.Y[k] != y {
			t.Errorf("sample %d is %g, expected %g", k, got.Y[k], y)
		}
	}
	// A channel that lags by d reads x(t - d): its samples belong d earlier.
	if math.Abs(got.T0-(1e-6-2.5e-9)) > 1e-21 || got.Dt != raw.Dt {
		t.Errorf("the record starts at %g s, expected 2.5 ns before 1 µs", got.T0)
	}
	kinds := ""
	for _, s := range got.Steps {
		kinds += s.Kind + " "
	}
	if kinds != "scale invert offset delay " {
		t.Errorf("steps %q", kinds)
	}
	if raw.Y[0] != 1 || raw.T0 != 1e-6 || len(raw.Steps) != 0 {
		t.Error("the raw trace was changed")
	}
}

func TestAsReadDoesNothing(t *testing.T) {
	raw := &waveform.Trace{Unit: "V", Dt: 1, Y: []float64{1, math.NaN(), 3}}
	got := condition.Apply(raw, condition.AsRead())
	if len(got.Steps) != 0 || got.Y[0] != 1 || !math.IsNaN(got.Y[1]) || got.Y[2] != 3 || got.T0 != 0 {
		t.Errorf("got %+v", got)
	}
}

func TestZero(t *testing.T) {
	raw := &waveform.Trace{Unit: "A", Dt: 1, Y: []float64{1, 2}}
	got := condition.Zero(raw, 0.5, waveform.Interval{From: 0, To: 1})
	if got.Y[0] != 0.5 || got.Y[1] != 1.5 || raw.Y[0] != 1 {
		t.Errorf("got %v, raw %v", got.Y, raw.Y)
	}
	if len(got.Steps) != 1 || got.Steps[0].Kind != "zero" || got.Steps[0].Value != 0.5 {
		t.Errorf("steps %+v", got.Steps)
	}
}

// A sample that stands at the end of the range but for a rounding is over range: 1.6 binary
// units in the last place, as a converter's outermost code came out, and the digits that a
// file keeps. One step of 16 bits inside of it is a number.
func TestEndOfRange(t *testing.T) {
	const top, low = 23.8559643935136, -8.1379631235524
	step := (top - low) / 65535
	for _, x := range []struct {
		y    float64
		over bool
	}{{23.855964393513595, true}, {23.85596, true}, {top - step, false}, {-8.137963, true}, {low + step, false}} {
		raw := &waveform.Trace{Unit: "A", Dt: 1, Y: []float64{0, x.y}}
		for _, ch := range []condition.Channel{{Scale: 1, RangeMin: low, RangeMax: top}, {Scale: 1, RangeMin: math.NaN(), RangeMax: top}, {Scale: 1, RangeMin: low, RangeMax: math.NaN()}} {
			known := x.y > 0 && !math.IsNaN(ch.RangeMax) || x.y < 0 && !math.IsNaN(ch.RangeMin)
			if got := condition.Apply(raw, ch).Y[1]; math.IsInf(got, 0) != (x.over && known) {
				t.Errorf("%v in a range from %g to %g is read as %g", x.y, ch.RangeMin, ch.RangeMax, got)
			}
		}
	}
}

package dpt_test

import (
	"math"
	"strings"
	"testing"

	"slewbook/dpt"
	"slewbook/waveform"
)

// Where a missing sample takes a number away, the reason is that sample and no other:
// not that there is no load, no ramp or no rest, nor a level that is no number.
func TestLostSamples(t *testing.T) {
	clean, err := dpt.Measure(bench().Capture(0.5e-9, -lead), dpt.Defaults())
	if err != nil {
		t.Fatal(err)
	}
	off, on := clean.Events[1].T, clean.Events[2].T
	for _, trace := range []string{"Vds", "Id", "Vgs"} {
		for _, at := range []float64{-lead / 2, 1e-6, off - 0.5e-6, (off + on) / 2, off + 0.7*(on-off), on + 0.5e-6} {
			c := bench().Capture(0.5e-9, -lead)
			tr := c.Trace(trace)
			tr.Y[int(math.Round(tr.Pos(at)))] = math.NaN()
			shot, err := dpt.Measure(c, dpt.Defaults())
			if err != nil {
				t.Errorf("%s lost at %g s: %v", trace, at, err)
				continue
			}
			for _, m := range shot.Quantities {
				if q := clean.Quantity(m.Key); !math.IsNaN(m.Value) || math.IsNaN(q.Value) || len(m.Warnings) == 0 {
					continue
				}
				w := m.Warnings[0]
				delay := w.Code == waveform.DelayUnknown // which tells its own reason
				if strings.Contains(w.Text, "NaN") || w.Code != waveform.ClippedWindow && !delay {
					t.Errorf("%s lost at %g s: %s has none since %s: %s", trace, at, m.Key, w.Code, w.Text)
				}
			}
		}
	}
}

// A sample that is missing while the channel rests costs what needs all samples there, such
// as the largest value; the level is that of the others, and so are numbers that stand on it.
// One that is over range, which says that the level is not known, costs them.
func TestLostAtRest(t *testing.T) {
	clean, err := dpt.Measure(bench().Capture(0.5e-9, -lead), dpt.Defaults())
	if err != nil {
		t.Fatal(err)
	}
	off, on := clean.Events[1].T, clean.Events[2].T
	for _, y := range []float64{math.NaN(), math.Inf(1)} {
		c := bench().Capture(0.5e-9, -lead)
		tr := c.Trace("Vds")
		tr.Y[int(math.Round(tr.Pos(off+0.7*(on-off))))] = y
		shot, err := dpt.Measure(c, dpt.Defaults())
		if err != nil {
			t.Fatal(err)
		}
		if got := shot.Quantity("v_max").Value; !math.IsNaN(got) {
			t.Errorf("a sample of %g leaves v_max = %g", y, got)
		}
		for _, key := range []string{"i_off", "i_on", "t_rise_v", "t_fall_v", "e_off", "e_on", "i_peak", "q_rr"} {
			got, want := shot.Quantity(key), clean.Quantity(key)
			if math.IsInf(y, 0) != math.IsNaN(got.Value) || math.Abs(got.Value-want.Value) > want.U/10 {
				t.Errorf("a sample of %g: %s = %g, without %g", y, key, got.Value, want.Value)
			}
		}
	}
}

// A ringing that holds a lost sample is not one below the noise.
func TestLostInRinging(t *testing.T) {
	c := bench().Capture(0.5e-9, -lead)
	tr := c.Trace("Vds")
	clean, err := dpt.Measure(c, dpt.Defaults())
	if err != nil {
		t.Fatal(err)
	}
	tr.Y[int(math.Round(tr.Pos(clean.Quantity("f_ring_off").Over.From)))+5] = math.NaN()
	shot, err := dpt.Measure(c, dpt.Defaults())
	if err != nil {
		t.Fatal(err)
	}
	if q := shot.Quantity("f_ring_off"); !math.IsNaN(q.Value) || q.Warnings[0].Code != waveform.ClippedWindow || strings.Contains(q.Warnings[0].Text, "NaN") {
		t.Errorf("f_ring_off is %g: %v", q.Value, q.Warnings)
	}
}

// A vds that is over range for a part of the samples while the device conducts takes
// nothing from the load current at the turn-off: it is continued with an on-state voltage
// that is small against the bus (simulated, see testdata/captures).
func TestOnStateOverRange(t *testing.T) {
	opt := dpt.Defaults()
	opt.Align = dpt.AlignOff
	c, _ := simulatedShot(t, "clean-sic")
	want := mustMeasure(t, c, opt)
	for name, lose := range map[string]func(k, n int) bool{
		"for five samples late in the pulse": func(k, n int) bool { return k >= 9*n/10 && k < 9*n/10+5 },
		"in one sample of three":             func(k, n int) bool { return k%3 == 0 },
	} {
		for _, bad := range []float64{math.Inf(1), math.Inf(-1)} {
			c := shifted(c, "Vds", 0, 0)
			v := c.Trace("Vds")
			lo, hi := v.Indices(waveform.Interval{From: want.Events[0].T + 50e-9, To: want.Events[1].T - 50e-9})
			for k := lo; k < hi; k++ {
				if lose(k-lo, hi-lo) {
					v.Y[k] = bad
				}
			}
			shot, err := dpt.Measure(c, opt)
			if err != nil {
				continue // told
			}
			for _, key := range []string{"i_off", "t_fall_i"} {
				m, truth := shot.Quantity(key), want.Quantity(key).Value
				t.Log(name, bad, key, m.Value, truth)
				if !(math.Abs(m.Value-truth) <= 1e-3*truth) && !(math.IsNaN(m.Value) && len(m.Warnings) > 0) {
					t.Errorf("%g V %s: %s is %g, without %g, with %v", bad, name, key, m.Value, truth, m.Warnings)
				}
			}
		}
	}
}

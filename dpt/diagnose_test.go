package dpt_test

import (
	"math"
	"strings"
	"testing"

	"slewbook/dpt"
	"slewbook/waveform"
	"slewbook/waveform/wavetest"
)

func TestQualityIsTold(t *testing.T) {
	tests := map[waveform.Code]struct {
		change func(c *waveform.Capture)
		words  string
	}{
		waveform.FewBits: {func(c *waveform.Capture) {
			wavetest.Quantise(c.Trace("Id"), 6, waveform.Range{Min: -100, Max: 100})
		}, "steps of its converter"},
		waveform.BusSag: {func(c *waveform.Capture) {
			v := c.Trace("Vds")
			lo, _ := v.Indices(waveform.Interval{From: 2e-6, To: 1})
			for k := lo; k < len(v.Y); k++ {
				v.Y[k] *= 0.9
			}
		}, "each edge is referred to its own bus voltage"},
		waveform.CommonMode: {func(c *waveform.Capture) {
			for k, y := range c.Trace("Vds").Y {
				c.Trace("Id").Y[k] += 0.0012 * y // 58 dB below, with 1 V per ampere
			}
		}, "the zero of its sensor moves with the voltage"},
	}
	for code, tt := range tests {
		t.Run(string(code), func(t *testing.T) {
			c := wavetest.Example().Capture(0.5e-9, -lead)
			opt := dpt.Defaults()
			before, err := dpt.Measure(c, opt)
			if err != nil {
				t.Fatal(err)
			}
			if hasCode(before.Warnings, code) {
				t.Fatalf("the shot as it is carries %s already", code)
			}
			tt.change(c)
			shot, err := dpt.Measure(c, opt)
			if err != nil {
				t.Fatal(err)
			}
			for _, w := range shot.Warnings {
				if w.Code == code {
					if !strings.Contains(w.Text, tt.words) {
						t.Errorf("the text %q lacks %q", w.Text, tt.words)
					}
					t.Log(w.Text)
					return
				}
			}
			t.Errorf("no %s among %v", code, shot.Warnings)
		})
	}
}

// A current and a gate that follow dv/dt where physics does not let them are told.
func TestPickUpIsTold(t *testing.T) {
	for name, gain := range map[string]float64{"Id": 8, "Vgs": 24} {
		c := wavetest.Example().Capture(0.5e-9, -lead)
		v, tr := c.Trace("Vds"), c.Trace(name)
		for k := 1; k < len(v.Y); k++ {
			tr.Y[k] += gain * (v.Y[k] - v.Y[k-1]) / 0.5 / 40 // per 40 V/ns
		}
		shot, err := dpt.Measure(c, dpt.Defaults())
		if err != nil {
			t.Fatal(err)
		}
		found := false
		for _, w := range shot.Warnings {
			found = found || w.Code == waveform.CommonMode && strings.Contains(w.Text, "picks up dv/dt")
		}
		if !found {
			t.Errorf("%s: %v", name, shot.Warnings)
		}
	}
}

// A window that ends before it begins is diagnosed in the order sign, zero,
// window, ringing, delay, channels, with the evidence for each.
func TestDiagnosis(t *testing.T) {
	d := wavetest.Example()
	d.OnTi, d.OnTv, d.OffTi, d.OffTv = 3e-9, 3e-9, 3e-9, 3e-9
	d.ChI.Lag = 8e-9
	shot, err := dpt.Measure(d.Capture(0.2e-9, -lead), dpt.Defaults())
	if err != nil {
		t.Fatal(err)
	}
	m := shot.Quantity("e_on")
	if !math.IsNaN(m.Value) || len(m.Warnings) == 0 {
		t.Fatalf("e_on = %g, %v", m.Value, m.Warnings)
	}
	text, at := m.Warnings[0].Text, 0
	for _, word := range []string{"1. signs", "2. zero", "3. window", "4. ringing", "5. delay", "6. channels"} {
		k := strings.Index(text[at:], word)
		if k < 0 {
			t.Fatalf("%q does not follow in %q", word, text)
		}
		at += k
	}
	t.Log(text)
}

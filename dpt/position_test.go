package dpt_test

import (
	"math"
	"testing"

	"slewbook/dpt"
	"slewbook/waveform"
	"slewbook/waveform/wavetest"
)

// mirrored is a capture of recovering in which the other device is the one under test: v
// and v_other, i and -i_other, the gates.
func mirrored(c *waveform.Capture) *waveform.Capture {
	out := *c
	out.Traces = nil
	for _, x := range []struct {
		name, from string
		sign       float64
	}{{"Vds", "V_other", 1}, {"Id", "I_other", -1}, {"Vgs", "Vgs_other", 1}, {"V_other", "Vds", 1}, {"I_other", "Id", -1}, {"Vgs_other", "Vgs", 1}} {
		tr := *c.Trace(x.from)
		tr.Name, tr.Y = x.name, nil
		for _, y := range c.Trace(x.from).Y {
			tr.Y = append(tr.Y, x.sign*y)
		}
		out.Traces = append(out.Traces, &tr)
	}
	return &out
}

// behind is one record of both captures, the second after the first.
func behind(a, b *waveform.Capture) *waveform.Capture {
	out := *a
	out.Traces = nil
	for _, tr := range a.Traces {
		both := *tr
		both.Y = append(append([]float64(nil), tr.Y...), b.Trace(tr.Name).Y...)
		out.Traces = append(out.Traces, &both)
	}
	return &out
}

// Which of the two devices of a half bridge is under test shows in the record: the one
// that carries the load forward. Where it is the partner, and where each is in a part of
// it, its quantities are those of the same device measured by itself.
func TestPositions(t *testing.T) {
	d := recovering()
	d.LLoad = 0.3e-3
	low := d.Capture(0.5e-9, -lead)
	high := mirrored(low)
	opt := dpt.Defaults()
	opt.Align, opt.Both = dpt.AlignOff, true
	alone, err := dpt.Measure(low, opt)
	if err != nil {
		t.Fatal(err)
	}
	for name, tt := range map[string]struct {
		c    *waveform.Capture
		want []string
	}{
		"low":            {low, []string{"ideal"}},
		"high":           {high, []string{"ideal.partner"}},
		"low, then high": {behind(low, high), []string{"ideal", "ideal.partner"}},
		"high, then low": {behind(high, low), []string{"ideal", "ideal.partner"}},
		"no partner":     {wavetest.Example().Capture(1e-9, -lead), []string{"ideal"}},
	} {
		positions := dpt.Positions(tt.c, opt)
		if len(positions) != len(tt.want) {
			t.Errorf("%s: %d positions, expected %v", name, len(positions), tt.want)
			continue
		}
		for k, p := range positions {
			shot, err := dpt.Measure(p.Capture, p.Options)
			if err != nil || shot.Capture != tt.want[k] {
				t.Errorf("%s: %s, %v", name, shot.Capture, err)
				continue
			}
			if name == "no partner" {
				continue
			}
			for _, key := range []string{"e_on", "e_off", "i_off", "i_on", "v_peak", "i_rrm", "q_rr", "e_rr", "t_rise_v", "t_dead_on", "vgs_high"} {
				if m, want := shot.Quantity(key), alone.Quantity(key); !(math.Abs(m.Value-want.Value) <= 0.002*math.Abs(want.Value)) {
					t.Errorf("%s, %s: %s = %.5g, by itself %.5g %v", name, shot.Capture, key, m.Value, want.Value, m.Warnings)
				}
			}
		}
	}
}

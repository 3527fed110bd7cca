package dpt_test

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"slewbook/dpt"
	"slewbook/dpt/result"
	"slewbook/waveform"
	"slewbook/waveform/wavetest"
)

// bench is a shot as a bench shows it: ringing through the thresholds, noise,
// eight bits, offsets.
func bench() wavetest.DoublePulse {
	d := wavetest.Example()
	d.Irrm, d.Tb = 14, 15e-9
	d.LLoop = 60e-9 // the dip is 60 V
	d.RingV = wavetest.Ring{Amplitude: 350, F: 40e6, Zeta: 0.02}
	d.RingI = wavetest.Ring{Amplitude: 9, F: 45e6, Zeta: 0.03}
	d.ChV = wavetest.Channel{Offset: 4, Noise: 1.5, Bits: 8, Range: waveform.Range{Min: -300, Max: 1300}}
	d.ChI = wavetest.Channel{Offset: 0.2, Noise: 0.1, Bits: 8, Range: waveform.Range{Min: -25, Max: 60}}
	d.ChG = wavetest.Channel{Offset: 0.1, Noise: 0.1, Bits: 8, Range: waveform.Range{Min: -15, Max: 25}}
	return d
}

func wantEvents(t *testing.T, shot result.Shot, err error, want []wavetest.Event) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
	if len(shot.Events) != len(want) {
		t.Fatalf("found %d events, there are %d: %+v", len(shot.Events), len(want), shot.Events)
	}
	for k, ev := range want {
		got := shot.Events[k]
		if (got.Edge == result.TurnOn) != ev.On || math.Abs(got.T-ev.T) > 10e-9 {
			t.Errorf("event %d is %+v, expected %+v", k, got, ev)
		}
	}
}

// Whatever a bench adds to a shot, every edge is found and none is invented.
func TestEdgesInTheMess(t *testing.T) {
	const dt = 1e-9
	tests := map[string]func(c *waveform.Capture, ev []wavetest.Event){
		"as it is": func(*waveform.Capture, []wavetest.Event) {},
		"gate spikes at the edges": func(c *waveform.Capture, ev []wavetest.Event) {
			for _, e := range ev {
				spike(c.Trace("Vgs"), e.T, 15e-9, 14)
				spike(c.Trace("Vgs"), e.T+40e-9, 10e-9, -14)
			}
		},
		"on-state probe error": func(c *waveform.Capture, _ []wavetest.Event) {
			for k, y := range c.Trace("Vds").Y {
				if y < 400 {
					c.Trace("Vds").Y[k] += 45
				}
			}
		},
		"dip of a third of the bus": func(c *waveform.Capture, ev []wavetest.Event) {
			for _, e := range ev {
				if e.On {
					spike(c.Trace("Vds"), e.T-30e-9, 15e-9, -270)
				}
			}
		},
		"single wild sample": func(c *waveform.Capture, _ []wavetest.Event) {
			c.Trace("Vds").Y[100] = 1290
			c.Trace("Vds").Y[1000] = -290
		},
	}
	for name, change := range tests {
		for _, gate := range []bool{true, false} {
			t.Run(fmt.Sprint(name, ", gate ", gate), func(t *testing.T) {
				d := bench()
				want := d.Answers(1, 2).Events
				c := d.Capture(dt, -lead)
				change(c, want)
				if !gate {
					c.Traces = c.Traces[:2]
				}
				shot, err := dpt.Measure(c, dpt.Defaults())
				wantEvents(t, shot, err, want)
			})
		}
	}
}

// spike adds a half sine of the given width and height.
func spike(tr *waveform.Trace, at, width, height float64) {
	lo, hi := tr.Indices(waveform.Interval{From: at, To: at + width})
	for k := lo; k < hi; k++ {
		tr.Y[k] += height * math.Sin(math.Pi*(tr.Time(k)-at)/width)
	}
}

// cut returns the capture between two instants.
func cut(c *waveform.Capture, from, to float64) *waveform.Capture {
	out := *c
	out.Traces = nil
	for _, tr := range c.Traces {
		lo, hi := tr.Indices(waveform.Interval{From: from, To: to})
		part := *tr
		part.T0, part.Y = tr.Time(lo), tr.Y[lo:hi]
		out.Traces = append(out.Traces, &part)
	}
	return &out
}

// A record cut at any place is measured as far as it goes or refused; edges that
// it holds with some margin are found, none is invented, and nothing panics.
func TestRecordCutAnywhere(t *testing.T) {
	d := bench()
	whole := d.Capture(1e-9, -lead)
	span := whole.Traces[0].Span()
	events := d.Answers(1, 2).Events
	const margin = 0.25e-6
	for _, head := range []bool{true, false} {
		for f := 0.01; f < 1; f += 0.012 {
			at := span.From + f*span.Duration()
			iv := waveform.Interval{From: span.From, To: at}
			if head {
				iv = waveform.Interval{From: at, To: span.To}
			}
			shot, err := dpt.Measure(cut(whole, iv.From, iv.To), dpt.Defaults())
			want := 0
			unsure := false
			for _, ev := range events {
				if ev.T > iv.From+margin && ev.T < iv.To-margin {
					want++
				} else if ev.T > iv.From-margin && ev.T < iv.To+margin {
					unsure = true
				}
			}
			if unsure {
				continue
			}
			if want == 0 && err == nil {
				t.Errorf("cut to %v: %d events invented", iv, len(shot.Events))
			}
			if want > 0 && (err != nil || len(shot.Events) != want) {
				t.Errorf("cut to %v: %d events found, expected %d (%v)", iv, len(shot.Events), want, err)
			}
			for _, m := range shot.Quantities {
				if math.IsNaN(m.Value) && len(m.Warnings) == 0 {
					t.Errorf("cut to %v: %s has no number and no reason", iv, m.Key)
				}
			}
		}
	}
}

// A record zoomed on one edge gives that edge's numbers, near those of the
// whole record, and says that it is a single edge.
func TestSingleEdge(t *testing.T) {
	d := wavetest.Example()
	whole := d.Capture(0.5e-9, -lead)
	full, err := dpt.Measure(whole, dpt.Defaults())
	if err != nil {
		t.Fatal(err)
	}
	for key, ev := range map[string]result.Event{"e_off": full.Events[1], "e_on": full.Events[2]} {
		shot, err := dpt.Measure(cut(whole, ev.T-0.4e-6, ev.T+0.6e-6), dpt.Defaults())
		if err != nil {
			t.Fatal(err)
		}
		got, want := shot.Quantity(key).Value, full.Quantity(key).Value
		if !(math.Abs(got-want) < 2e-3*want) {
			t.Errorf("%s = %g on the single edge, %g on the whole record", key, got, want)
		}
		if !hasCode(shot.Warnings, waveform.SingleEdge) {
			t.Errorf("%s: no single-edge warning: %v", key, shot.Warnings)
		}
		if len(shot.Events) != 1 || shot.Events[0].Pulse != 0 {
			t.Errorf("%s: events %+v, expected one of an unknown pulse", key, shot.Events)
		}
	}
}

func hasCode(ws []waveform.Warning, code waveform.Code) bool {
	for _, w := range ws {
		if w.Code == code {
			return true
		}
	}
	return false
}

func TestPulsesAskedFor(t *testing.T) {
	d := wavetest.Example()
	d.Pulses = 3
	opt := dpt.Defaults()
	opt.PulseOff, opt.PulseOn = 2, 3
	shot, err := dpt.Measure(d.Capture(0.5e-9, -lead), opt)
	if err != nil {
		t.Fatal(err)
	}
	want := d.Answers(2, 3).Values
	for _, key := range []string{"i_off", "i_on", "t_rise_v", "t_fall_v"} {
		if got := shot.Quantity(key).Value; math.Abs(got-want[key]) > 1e-3*want[key] {
			t.Errorf("%s = %g, expected %g", key, got, want[key])
		}
	}
	opt.PulseOff = 7
	shot, err = dpt.Measure(d.Capture(0.5e-9, -lead), opt)
	if err != nil {
		t.Fatal(err)
	}
	if m := shot.Quantity("e_off"); !math.IsNaN(m.Value) || m.Warnings[0].Text != "the record holds no turn-off of pulse 7" {
		t.Errorf("e_off of pulse 7 = %v, %v", m.Value, m.Warnings)
	}
}

// A record of nothing but a first turn-on, which carries no load, has no turn-on
// energy: percentages of no current mean nothing.
func TestFirstTurnOnAlone(t *testing.T) {
	d := wavetest.Example()
	whole := d.Capture(0.5e-9, -lead)
	shot, err := dpt.Measure(cut(whole, -lead, 1.5e-6), dpt.Defaults())
	if err != nil {
		t.Fatal(err)
	}
	for _, key := range []string{"i_on", "e_on", "t_rise_i", "i_peak"} {
		if m := shot.Quantity(key); !math.IsNaN(m.Value) || !hasCode(m.Warnings, waveform.NoLoad) {
			t.Errorf("%s = %g with %v; expected none with no-load", key, m.Value, m.Warnings)
		}
	}
}

// What physics contradicts is refused with the evidence, never flipped.
func TestRefusals(t *testing.T) {
	negate := func(name string) func(c *waveform.Capture) {
		return func(c *waveform.Capture) {
			for k := range c.Trace(name).Y {
				c.Trace(name).Y[k] *= -1
			}
		}
	}
	tests := map[string]struct {
		change func(c *waveform.Capture)
		want   string
	}{
		"current flipped": {negate("Id"), "change channel.id.invert"},
		"voltage flipped": {negate("Vds"), "change channel.vds.invert"},
		"gate flipped":    {negate("Vgs"), "change channel.vgs.invert"},
		"channels swapped": {func(c *waveform.Capture) {
			v, i := c.Trace("Vds"), c.Trace("Id")
			v.Y, i.Y = i.Y, v.Y
		}, "look swapped"},
		"no current": {func(c *waveform.Capture) { c.Traces = c.Traces[:1] }, `no trace could be given the role id; the capture has "Vds"`},
		"constant voltage": {func(c *waveform.Capture) {
			for k := range c.Trace("Vds").Y {
				c.Trace("Vds").Y[k] = 3
			}
		}, `vds (trace "Vds") never moves`},
		"all missing": {func(c *waveform.Capture) {
			for k := range c.Trace("Id").Y {
				c.Trace("Id").Y[k] = math.NaN()
			}
		}, `id (trace "Id") never moves`},
		"only noise": {func(c *waveform.Capture) {
			tr := c.Trace("Vds")
			clear(tr.Y)
			wavetest.AddNoise(tr, 1, 3)
		}, "its noise is"},
		"one sample": {func(c *waveform.Capture) { c.Trace("Vds").Y = c.Trace("Vds").Y[:1] }, "holds 1 sample"},
	}
	for name, tt := range tests {
		t.Run(name, func(t *testing.T) {
			c := wavetest.Example().Capture(0.5e-9, -lead)
			tt.change(c)
			shot, err := dpt.Measure(c, dpt.Defaults())
			if err == nil || !strings.Contains(err.Error(), tt.want) {
				t.Fatalf("error %q, expected one with %q", err, tt.want)
			}
			if len(shot.Quantities) > 0 || shot.Err == nil {
				t.Errorf("a refused shot has %d quantities and the error %v", len(shot.Quantities), shot.Err)
			}
			t.Log(err)
		})
	}
}

// A window that holds a clipped or missing sample has no energy, others have.
func TestClippedWindow(t *testing.T) {
	for name, bad := range map[string]float64{"over range": math.Inf(1), "missing": math.NaN()} {
		t.Run(name, func(t *testing.T) {
			c := wavetest.Example().Capture(0.5e-9, -lead)
			good, err := dpt.Measure(c, dpt.Defaults())
			if err != nil {
				t.Fatal(err)
			}
			over := good.Quantity("e_on").Over
			lo, _ := c.Trace("Id").Indices(waveform.Interval{From: over.From + 30e-9, To: over.To})
			c.Trace("Id").Y[lo] = bad
			shot, err := dpt.Measure(c, dpt.Defaults())
			if err != nil {
				t.Fatal(err)
			}
			for _, key := range []string{"e_on", "i_peak"} {
				if m := shot.Quantity(key); !math.IsNaN(m.Value) || !hasCode(m.Warnings, waveform.ClippedWindow) {
					t.Errorf("%s = %g, %v; expected none with clipped-window", key, m.Value, m.Warnings)
				}
			}
			if got, want := shot.Quantity("e_off").Value, good.Quantity("e_off").Value; math.Abs(got-want) > 1e-6*want {
				t.Errorf("e_off = %g, expected %g", got, want)
			}
		})
	}
}

package dpt_test

import (
	"math"
	"strings"
	"testing"

	"slewbook/dpt"
	"slewbook/dpt/condition"
	"slewbook/dpt/model"
	"slewbook/dpt/result"
	"slewbook/waveform"
	"slewbook/waveform/wavetest"
)

// On an invented GaN shot in 8 bits the loop's equation fits best 34 ns off, where the fall
// of the current stands for the ringing. Voltage and current would be further apart than
// their edges are long: no such delay is sure.
func TestDelayBeyondEdges(t *testing.T) {
	b := model.Random("gan", 1, 138)
	opt := dpt.Defaults()
	opt.Channels = map[result.Role]dpt.Channel{}
	for role, ch := range map[result.Role]model.Channel{result.Vds: b.Instrument.V, result.Id: b.Instrument.I, result.Vgs: b.Instrument.Vgs} {
		opt.Channels[role] = dpt.Channel{Channel: condition.AsRead(), Bandwidth: ch.Bandwidth}
	}
	shot, err := dpt.Measure(model.Capture(b.Waveforms(), b.Instrument, 138), opt)
	if err != nil {
		t.Fatal(err)
	}
	truth := b.Instrument.I.Delay - b.Instrument.V.Delay
	if m := shot.Quantity("delay_id"); !math.IsNaN(m.Value) && math.Abs(m.Value-truth) > 4*m.U || math.IsNaN(m.Value) && !hasCode(m.Warnings, waveform.DelayUnknown) {
		t.Errorf("delay_id is %.3g ± %.2g ns where it is %.3g ns: %v", m.Value*1e9, m.U*1e9, truth*1e9, m.Warnings)
	}
}

// The turn-off of 120 A at 400 V throws a first half-wave of L·di/dt ten times the ringing
// behind it: the ringing tells the delay all the same.
func TestDelayBehindALargeOvershoot(t *testing.T) {
	in := model.DemoInstrument()
	in.V.Range, in.I.Range = waveform.Range{Min: -100, Max: 800}, waveform.Range{Min: -100, Max: 300}
	shot, err := dpt.Measure(model.Capture(model.Demo(400, 120).Waveforms(), in, 1), dpt.Defaults())
	if err != nil {
		t.Fatal(err)
	}
	truth := in.I.Delay - in.V.Delay
	if m := shot.Quantity("delay_id"); !(math.Abs(m.Value-truth) <= 4*m.U) {
		t.Errorf("delay_id is %.3g ± %.2g ns where it is %.3g ns: %v", m.Value*1e9, m.U*1e9, truth*1e9, m.Warnings)
	}
}

// Where the delay cannot be told the reason is the true one, and of energies that are
// missing nothing is said.
func TestUnknownDelayIsReasoned(t *testing.T) {
	c := wavetest.Example().Capture(0.5e-9, -lead) // without ringing, with a rise under load
	for _, missing := range []bool{false, true} {
		if missing {
			for k, y := range c.Trace("Vds").Y {
				if y > 0.3*800 && y < 0.7*800 {
					c.Trace("Vds").Y[k] = math.Inf(1)
				}
			}
		}
		shot, err := dpt.Measure(c, dpt.Defaults())
		if err != nil {
			t.Fatal(err)
		}
		told := ""
		for _, w := range shot.Warnings {
			if w.Code == waveform.DelayUnknown {
				told = w.Text
			}
		}
		if told == "" || strings.Contains(told, "no turn-on under") != missing || strings.Contains(told, "a nanosecond more") == missing {
			t.Errorf("energies missing %t: %q", missing, told)
		}
	}
}

package dpt_test

import (
	"math"
	"testing"

	"slewbook/dpt"
	"slewbook/dpt/condition"
	"slewbook/dpt/model"
	"slewbook/dpt/result"
	"slewbook/waveform"
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

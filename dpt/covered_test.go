package dpt_test

import (
	"math"
	"testing"

	"slewbook/dpt"
	"slewbook/dpt/condition"
	"slewbook/dpt/model"
	"slewbook/dpt/result"
)

// Values that were off by more than three times their u, on shots of the virtual bench,
// whose truth is that of its continuous waveforms: a level passed by noise on a tail, a dip
// that grazes 90 % for longer than the fall lasts, a gate that is on its way for half of the
// stretch before the first pulse, and noise behind a filter taken for the ringing.
func TestUHoldsWhatIsSeen(t *testing.T) {
	for _, x := range []struct {
		family string
		shot   uint64
		key    string
	}{
		{"igbt", 109, "e_off"},
		{"igbt", 152, "dvdt_on"},
		{"igbt", 152, "t_fall_v"},
		{"igbt", 81, "vgs_low"},
		{"gan", 22, "delay_id"},
	} {
		b := model.Random(x.family, 1, x.shot)
		w := b.Waveforms()
		opt := dpt.Defaults()
		opt.Align = dpt.AlignApply
		if x.family == "igbt" {
			opt.Device = dpt.IGBT
		}
		opt.Channels = map[result.Role]dpt.Channel{}
		for role, ch := range map[result.Role]struct {
			model.Channel
			model.Stated
		}{result.Vds: {b.Instrument.V, b.V}, result.Id: {b.Instrument.I, b.I}, result.Vgs: {b.Instrument.Vgs, b.Vgs}} {
			opt.Channels[role] = dpt.Channel{Channel: condition.AsRead(), Bandwidth: ch.Bandwidth, GainU: ch.GainU, OffsetU: ch.OffsetU, DelayU: ch.DelayU}
		}
		s, err := dpt.Measure(model.Capture(w, b.Instrument, x.shot), opt)
		if err != nil {
			t.Fatal(err)
		}
		m, truth := s.Quantity(x.key), b.Known(w)[x.key]
		if !(math.Abs(m.Value-truth) < 2.5*m.U) {
			t.Errorf("%s of %s shot %d is %.4g, u %.2g, where it is %.4g", x.key, x.family, x.shot, m.Value, m.U, truth)
		}
	}
}

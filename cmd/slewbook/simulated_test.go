package main

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"slewbook/dpt"
	"slewbook/dpt/condition"
	"slewbook/dpt/curve"
	"slewbook/dpt/model"
	"slewbook/dpt/result"
	"slewbook/dpt/uncertainty"
)

// A bench whose channels have 50 MHz and whose current lags by 2 ns records an edge of
// the invented device; the simulation of it has neither. With the probe model of the
// set-up applied, which shares no code with the recorder, the two are not told apart;
// bare, the rise of the current is seen to be slower on the bench than in the simulation.
// The set-up's scale and delay undo what the bench did, and are not applied to the simulation.
func TestSimulated(t *testing.T) {
	exact, slow := model.Instrument{Fs: 2.5e9}, model.Instrument{Fs: 2.5e9}
	slow.V.Bandwidth, slow.I.Bandwidth, slow.I.Delay, slow.I.GainError = 50e6, 50e6, 2e-9, -0.5
	opt := dpt.Defaults()
	opt.Align = dpt.AlignOff
	as := condition.AsRead()
	v := dpt.Channel{Channel: as, Source: "Vds", Bandwidth: 50e6, GainU: 1e-3, OffsetU: 0.1}
	i := v
	i.Source, i.Scale, i.Delay, i.DelayU, i.OffsetU = "Id", 2, 2e-9, 10e-12, 0.01
	opt.Channels = map[result.Role]dpt.Channel{result.Vds: v, result.Id: i}
	measured := func(in model.Instrument, sim dpt.Simulated) []*result.Shot {
		var shots []*result.Shot
		for k, current := range []float64{40, 80} {
			opt := opt
			opt.Simulated = sim
			w := model.Demo(600, current).Waveforms()
			c := model.Capture(w, in, uint64(k))
			c.Name = fmt.Sprint(current)
			shot, err := dpt.Measure(c, opt)
			if err != nil {
				t.Fatal(err)
			}
			shots = append(shots, &shot)
		}
		return shots
	}
	bench, probed, bare := measured(slow, dpt.Recorded), measured(exact, dpt.Probed), measured(exact, dpt.Bare)
	keys := []string{"t_rise_i", "t_fall_v", "t_rise_v", "t_fall_i", "e_on", "e_off", "i_peak", "v_peak"}
	for k, s := range bench {
		for _, key := range keys {
			want, got := s.Quantity(key).Value, probed[k].Quantity(key).Value
			if math.Abs(got/want-1) > 0.01 {
				t.Errorf("%s at %s A: probed %.4g, on the bench %.4g", key, s.Capture, got, want)
			}
		}
		if on, off := s.Quantity("t_rise_i").Value, bare[k].Quantity("t_rise_i").Value; !(off < 0.98*on) {
			t.Errorf("bare rise %.4g at %s A, on the bench %.4g: the test tells nothing", off, s.Capture, on)
		}
	}
	for _, d := range curve.Compare(bench, probed, keys[:1]).Differences {
		if d.Verdict != uncertainty.CannotTell {
			t.Errorf("%s at %s: %s by %.3g with u %.3g", d.Key, d.Where, d.Verdict, d.Diff, d.U)
		}
	}
	for _, s := range []*result.Shot{probed[0], bare[0]} {
		for _, c := range s.Quantity("e_on").Budget {
			if strings.HasPrefix(c.Source, "gain") || strings.HasPrefix(c.Source, "zero of vds") || strings.HasPrefix(c.Source, "delay") {
				t.Errorf("a simulated trace has the line %q", c.Source)
			}
		}
	}
	text := ""
	for _, c := range probed[0].Corrections {
		text += string(c.Channel) + " " + c.Kind + "; "
	}
	if text != "vds probe; id probe; id zero; " {
		t.Errorf("corrections: %s", text)
	}
	if n := len(bare[0].Corrections); n != 1 {
		t.Errorf("%d corrections of a bare simulation; expected the zero", n)
	}
}

package dpt_test

import (
	"math"
	"strings"
	"testing"

	"slewbook/dpt"
	"slewbook/dpt/condition"
	"slewbook/dpt/model"
	"slewbook/dpt/result"
)

// Channels of a known bandwidth lengthen edges: taken out, durations and slopes come nearer
// to the answers of the continuous waveforms (dpt/model, by bisection on them), with half
// of the line left; what was read, peaks and energies stay.
func TestCorrectBandwidth(t *testing.T) {
	w := model.Demo(600, 50).Waveforms()
	in := model.DemoInstrument()
	opt := dpt.Defaults()
	opt.Channels = map[result.Role]dpt.Channel{}
	for role, ch := range map[result.Role]*model.Channel{result.Vds: &in.V, result.Id: &in.I} {
		ch.Bandwidth, ch.Noise, ch.Bits = 80e6, ch.Noise/100, 0
		opt.Channels[role] = dpt.Channel{Channel: condition.AsRead(), Bandwidth: ch.Bandwidth}
	}
	c := model.Capture(w, in, 1)
	asRead, err := dpt.Measure(c, opt)
	if err != nil {
		t.Fatal(err)
	}
	opt.CorrectBandwidth = true
	shot, err := dpt.Measure(c, opt)
	if err != nil {
		t.Fatal(err)
	}
	line := func(q *result.Measurement) (string, float64) {
		for _, c := range q.Budget {
			if strings.HasPrefix(c.Source, "bandwidth") {
				return c.Source, c.Effect
			}
		}
		return "", 0
	}
	corrected, before, after := 0, 0.0, 0.0
	for key, a := range model.Known(w, in).Values {
		q, r := shot.Quantity(key), asRead.Quantity(key)
		if q == nil || math.IsNaN(q.Value) {
			continue
		}
		if math.Abs(q.Value-q.Corrected-r.Value) > 1e-9*math.Abs(r.Value) || r.Corrected != 0 {
			t.Errorf("%s: %g with %g added, %g as read", key, q.Value, q.Corrected, r.Value)
		}
		if q.Corrected == 0 {
			continue
		}
		corrected++
		before += math.Pow(r.Value/a.Value-1, 2)
		after += math.Pow(q.Value/a.Value-1, 2)
		if !(math.Abs(q.Value-a.Value) < 2*q.U) {
			t.Errorf("%s: truth %g, as read %g, corrected %g ± %g", key, a.Value, r.Value, q.Value, q.U)
		}
		_, whole := line(r)
		if name, left := line(q); name == "bandwidth" || math.Abs(left-whole/2) > 1e-9*whole {
			t.Errorf("%s: line %q of %g, %g as read", key, name, left, whole)
		}
	}
	if corrected < 8 || !(math.Sqrt(after/before) < 0.35) {
		t.Errorf("%d quantities were corrected, their errors to %.2f of what they were (rms)", corrected, math.Sqrt(after/before))
	}
	told := 0
	for _, c := range shot.Corrections {
		if c.Kind == "bandwidth" && c.Value == 80e6 {
			told++
		}
	}
	if told != 2 {
		t.Errorf("corrections %v", shot.Corrections)
	}
	opt.Channels = nil
	if err := opt.Validate(); err == nil || !strings.Contains(err.Error(), "channel.vds.bandwidth") {
		t.Errorf("without a bandwidth: %v", err)
	}
}

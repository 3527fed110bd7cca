package dpt_test

import (
	"math"
	"strings"
	"testing"

	"slewbook/dpt"
	"slewbook/waveform"
	"slewbook/waveform/wavetest"
)

// A record that begins under load: which pulses are in it is not known, and the turn-on
// measured is the one behind the turn-off measured. (Closed form of wavetest.)
func TestRecordBeginsUnderLoad(t *testing.T) {
	d := wavetest.Example()
	d.LLoad = 40e-6 // from 20 A the load goes up by 20 A in each further pulse
	d.Pulses, d.Width = 3, 1e-6
	second := d.Answers(2, 3)
	c := cut(d.Capture(0.5e-9, -lead), second.Events[2].T-0.8e-6, math.Inf(1))
	shot, err := dpt.Measure(c, dpt.Defaults())
	if err != nil {
		t.Fatal(err)
	}
	for key, want := range second.Values {
		m := shot.Quantity(key)
		if !strings.HasPrefix(key, "i_o") && !strings.HasPrefix(key, "e_o") || m == nil {
			continue
		}
		if !(math.Abs(m.Value-want) <= 2e-3*want) {
			t.Errorf("%s = %g, expected %g", key, m.Value, want)
		}
	}
	if hasCode(shot.Warnings, waveform.EdgesDiffer) {
		t.Errorf("the edges of one current differ: %v", shot.Warnings)
	}

	opt := dpt.Defaults()
	opt.PulseOn = 2
	shot, err = dpt.Measure(c, opt)
	if err != nil {
		t.Fatal(err)
	}
	if m := shot.Quantity("e_on"); !math.IsNaN(m.Value) || !strings.Contains(m.Warnings[0].Text, "begins under load") {
		t.Errorf("e_on of pulse 2 = %g, %v", m.Value, m.Warnings)
	}
}

// Edges of unlike currents have no e_tot.
func TestEdgesOfUnlikeCurrent(t *testing.T) {
	d := wavetest.Example()
	d.LLoad, d.Width = 40e-6, 1e-6
	c := d.Capture(0.5e-9, -lead)
	for pulse, apart := range map[int]bool{1: false, 2: true} {
		opt := dpt.Defaults()
		opt.PulseOff = pulse
		shot, err := dpt.Measure(c, opt)
		if err != nil {
			t.Fatal(err)
		}
		m := shot.Quantity("e_tot")
		if math.IsNaN(m.Value) != apart || hasCode(m.Warnings, waveform.EdgesDiffer) != apart || hasCode(shot.Warnings, waveform.EdgesDiffer) != apart {
			t.Errorf("turn-off of pulse %d: i_off %g, i_on %g, e_tot %g %v", pulse, shot.Quantity("i_off").Value, shot.Quantity("i_on").Value, m.Value, m.Warnings)
		}
	}
}

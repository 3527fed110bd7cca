package dpt_test

import (
	"math"
	"testing"

	"slewbook/dpt"
	"slewbook/waveform"
	"slewbook/waveform/wavetest"
)

// recovering is an ideal shot with a recovery of 12 A and the partner measured.
func recovering() wavetest.DoublePulse {
	d := wavetest.Example()
	d.Partner, d.Dead = true, 100e-9
	d.LLoop, d.LLoad, d.Irrm, d.Tb = 0, 1e-3, 12, 15e-9
	return d
}

// By Kirchhoff's laws (v_other = v_bus - v, i_other = i_load - i) on straight ramps: the
// partner's slope is that of v, its recovery a triangle, its energy V/t_fv·I_RRM·t_b²/6;
// the lags of its channels and the dead times are those that were put in.
func TestPartner(t *testing.T) {
	d := recovering()
	d.ChVO.Lag, d.ChIO.Lag = 3e-9, -2e-9
	c := d.Capture(0.1e-9, -lead)
	opt := dpt.Defaults()
	opt.Align = dpt.AlignApply
	read := dpt.Readings(t, c, opt)
	rise := d.Irrm / (d.I / d.OnTi)
	for key, tt := range map[string]struct{ want, tol float64 }{
		"v_other_peak":  {d.V, 0.001 * d.V},
		"dvdt_other":    {d.V / d.OnTv, 0.001 * d.V / d.OnTv},
		"i_rrm":         {d.Irrm, 0.01 * d.Irrm},
		"t_rr":          {rise + d.Tb, 0.01 * (rise + d.Tb)},
		"q_rr":          {d.Irrm * (rise + d.Tb) / 2, 0.01 * d.Irrm * d.Tb},
		"e_rr":          {d.V / d.OnTv * d.Irrm * d.Tb * d.Tb / 6, 0.02 * d.V / d.OnTv * d.Irrm * d.Tb * d.Tb / 6},
		"t_dead_off":    {d.Dead, 1e-12},
		"t_dead_on":     {d.Dead, 1e-12},
		"delay_v_other": {3e-9, 0.02e-9}, // the load's ramp and the samples
		"delay_i_other": {-2e-9, 0.02e-9},
	} {
		if m := read[key]; !(math.Abs(m.Value-tt.want) <= tt.tol) || !(m.U > 0) {
			t.Errorf("%s = %.5g ± %.2g, expected %.5g %v", key, m.Value, m.U, tt.want, m.Warnings)
		}
	}
}

// A partner's lag that is left in counts whole in the uncertainty of its energy.
func TestPartnerLagLeftIn(t *testing.T) {
	d := recovering()
	energy := func(lag float64) (value, counted float64) {
		d.ChVO.Lag = lag
		opt := dpt.Defaults()
		shot, err := dpt.Measure(d.Capture(0.1e-9, -lead), opt)
		if err != nil {
			t.Fatal(err)
		}
		m := shot.Quantity("e_rr")
		for _, c := range m.Budget {
			if c.Source == "delay of v_other" {
				counted = math.Abs(c.Effect)
			}
		}
		return m.Value, counted
	}
	still, none := energy(0)
	late, counted := energy(3e-9)
	// It is no straight line: the later v_other rises, the less is left of the current.
	if change := still - late; math.Abs(change-counted) > 0.3*change || none > 0.05*change {
		t.Errorf("a lag of 3 ns changes e_rr by %.4g, the budget has %.4g with it and %.4g without", change, counted, none)
	}
}

// A partner's channel the wrong way round, or of another size, is left out and told; the
// recovery is then read without it.
func TestPartnerContradicts(t *testing.T) {
	for _, tt := range []struct {
		name string
		gain float64
		code waveform.Code
	}{{"V_other", -1, waveform.Polarity}, {"I_other", -1, waveform.Polarity}, {"V_other", 10, waveform.ScaleSuspect}, {"I_other", 0.1, waveform.ScaleSuspect}, {"V_other", 1, ""}} {
		d := recovering()
		c := d.Capture(0.2e-9, -lead)
		for k := range c.Trace(tt.name).Y {
			c.Trace(tt.name).Y[k] *= tt.gain
		}
		shot, err := dpt.Measure(c, dpt.Defaults())
		if err != nil {
			t.Fatal(err)
		}
		if tt.code != "" != hasCode(shot.Warnings, tt.code) {
			t.Errorf("%s times %g: %v", tt.name, tt.gain, shot.Warnings)
		}
		if m := shot.Quantity("i_rrm"); !(math.Abs(m.Value-d.Irrm) < 0.02*d.Irrm) {
			t.Errorf("%s times %g: i_rrm = %.4g", tt.name, tt.gain, m.Value)
		}
	}
}

// Gates that overlap give a negative dead time with a warning; a partner whose gate is
// held off has no dead time, and a shot without one no row for it.
func TestDeadTime(t *testing.T) {
	d := recovering()
	d.Dead = -40e-9
	m := dpt.Readings(t, d.Capture(0.2e-9, -lead), dpt.Defaults())["t_dead_on"]
	if math.Abs(m.Value+40e-9) > 1e-11 || !hasCode(m.Warnings, waveform.GateOverlap) {
		t.Errorf("t_dead_on = %.4g %v, expected -40 ns", m.Value, m.Warnings)
	}
	c := d.Capture(0.2e-9, -lead)
	for k := range c.Trace("Vgs_other").Y {
		c.Trace("Vgs_other").Y[k] = -4
	}
	held, err := dpt.Measure(c, dpt.Defaults())
	if err != nil {
		t.Fatal(err)
	}
	d.Partner = false
	alone, err := dpt.Measure(d.Capture(0.2e-9, -lead), dpt.Defaults())
	if err != nil {
		t.Fatal(err)
	}
	if held.Quantity("t_dead_on") != nil || alone.Quantity("t_dead_on") != nil || alone.Quantity("v_other_peak") != nil || held.Quantity("v_other_peak") == nil {
		t.Errorf("rows without a reason, or none with one: %v, %v", held.Quantities, alone.Quantities)
	}
}

// Every row of a shot with all channels can be drawn as it was read.
func TestPartnerDrawings(t *testing.T) {
	c := recovering().Capture(0.2e-9, -lead)
	opt := dpt.Defaults()
	opt.Drawings, opt.AllDefinitions = true, true
	shot, err := dpt.Measure(c, opt)
	if err != nil {
		t.Fatal(err)
	}
	if m := shot.Quantity("v_other_peak"); m.Drawing == nil || len(m.Drawing.Marks) != 1 || math.Abs(m.Drawing.Marks[0].Y-m.Value) > 1e-9 {
		t.Errorf("v_other_peak is drawn as %+v", m.Drawing)
	}
}

// On straight ramps of both gates the time with both below 10 % of their swings is 0.8 of a
// ramp shorter than that between their middles; either can be that of the plain key.
func TestDeadTimeDefinitions(t *testing.T) {
	d := recovering()
	c := d.Capture(0.2e-9, -lead)
	for _, name := range []string{"g50-g50", "g10-g10"} {
		opt := dpt.Defaults()
		opt.AllDefinitions = true
		for _, key := range []string{"t_dead_off", "t_dead_on"} {
			if err := opt.SelectDefinition(key, name); err != nil {
				t.Fatal(err)
			}
		}
		read := dpt.Readings(t, c, opt)
		for _, key := range []string{"t_dead_off", "t_dead_on"} {
			want := map[string]float64{key + ".g50-g50": d.Dead, key + ".g10-g10": d.Dead - 0.8*d.GateRamp}
			want[key] = want[key+"."+name]
			for key, want := range want {
				if m := read[key]; !(math.Abs(m.Value-want) < 1e-11) || !(m.U > 0) {
					t.Errorf("%s, %s = %.5g ± %.2g, expected %.5g %v", name, key, m.Value, m.U, want, m.Warnings)
				}
			}
		}
	}
}

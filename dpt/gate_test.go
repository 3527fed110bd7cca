package dpt_test

import (
	"math"
	"testing"

	"slewbook/dpt"
	"slewbook/waveform"
	"slewbook/waveform/wavetest"
)

// gated is a shot of 800 V whose gate runs by straight lines from -4 to 18 V, with
// plateaus of 8 V for 80 ns and of 6 V for 100 ns while v moves, a triangle of 3 V and
// 30 ns above the upper level after the turn-on, and one of 2 V and 20 ns below the lower
// one after the turn-off.
func gated() (*waveform.Capture, wavetest.DoublePulse) {
	d := wavetest.Example()
	c := d.Capture(0.5e-9, -lead)
	ev := d.Answers(1, 2).Events
	var g wavetest.Piecewise
	g.Add(math.Inf(-1), -4)
	on := func(t float64, over float64) {
		g.Add(t-60e-9, -4, 0.4e9)
		g.Add(t-30e-9, 8)
		g.Add(t+50e-9, 8, 0.4e9)
		g.Add(t+75e-9, 18, over/15e-9)
		g.Add(t+90e-9, 18+over, -over/15e-9)
		g.Add(t+105e-9, 18)
	}
	off := func(t float64, under float64) {
		g.Add(t-70e-9, 18, -0.4e9)
		g.Add(t-40e-9, 6)
		g.Add(t+60e-9, 6, -0.4e9)
		g.Add(t+85e-9, -4, -under/10e-9)
		g.Add(t+95e-9, -4-under, under/10e-9)
		g.Add(t+105e-9, -4)
	}
	on(ev[0].T, 0)
	off(ev[1].T, 2)
	on(ev[2].T, 3)
	off(ev[3].T, 0)
	tr := c.Trace("Vgs")
	for k := range tr.Y {
		tr.Y[k] = g.At(tr.Time(k))
	}
	return c, d
}

// Straight lines have their answers by hand: the plateau's length within 5 % of the
// swing, 1.1 V, takes 2.75 ns more of the ramps at either end; the triangle of 3 V is
// above 1 V for 2/3 of its 30 ns, that of 2 V below 0.5 V for 3/4 of its 20 ns.
func TestGateByStraightLines(t *testing.T) {
	c, _ := gated()
	opt := dpt.Defaults()
	opt.Gate = dpt.GateLimits{Max: 19, Min: -4.5, DynamicMax: 22, DynamicMin: -5}
	shot, err := dpt.Measure(c, opt)
	if err != nil {
		t.Fatal(err)
	}
	for key, want := range map[string]struct{ value, tol float64 }{
		"vgs_plateau_on":      {8, 1e-3},
		"t_plateau_on":        {85.5e-9, 1e-10},
		"vgs_plateau_off":     {6, 1e-3},
		"t_plateau_off":       {105.5e-9, 1e-10},
		"vgs_overshoot":       {3, 0.1}, // half a sample of a triangle of 0.2 V/ns
		"vgs_undershoot":      {2, 0.1},
		"t_vgs_above":         {20e-9, 1e-10},
		"t_vgs_below":         {15e-9, 1e-10},
		"t_vgs_above_dynamic": {0, 0},
		"t_vgs_below_dynamic": {10e-9, 1e-10},
	} {
		q := shot.Quantity(key)
		if q == nil || !(math.Abs(q.Value-want.value) <= want.tol) || !(q.U > 0) || !(q.Over.To >= q.Over.From) {
			t.Errorf("%s: expected %g, got %+v", key, want.value, q)
		}
	}
}

// A gate that runs through without a plateau, one that is not recorded, and one that
// is over range give reasons in place of numbers; without limits there are no times
// beyond them.
func TestGateWithoutNumbers(t *testing.T) {
	d := wavetest.Example()
	d.DelayOn, d.DelayOff, d.GateRamp = 1e-9, 1e-9, 60e-9
	through := d.Capture(0.5e-9, -lead)
	missing := d.Capture(0.5e-9, -lead)
	missing.Traces = missing.Traces[:2]
	clipped, _ := gated()
	g := clipped.Trace("Vgs")
	for k := range g.Y {
		if g.Y[k] > 19 {
			g.Y[k] = math.Inf(1)
		}
	}
	for name, tt := range map[string]struct {
		c    *waveform.Capture
		keys []string
		code waveform.Code
	}{
		"no plateau": {through, []string{"vgs_plateau_on", "t_plateau_on", "vgs_plateau_off", "t_plateau_off"}, waveform.LevelNotReached},
		"no gate":    {missing, []string{"vgs_plateau_on", "vgs_overshoot", "vgs_undershoot", "t_vgs_above"}, waveform.NotInRecord},
		"over range": {clipped, []string{"vgs_overshoot"}, waveform.ClippedWindow},
		"above":      {clipped, []string{"t_vgs_above"}, waveform.ClippedWindow},
	} {
		opt := dpt.Defaults()
		opt.Gate.Max = 19
		shot, err := dpt.Measure(tt.c, opt)
		if err != nil {
			t.Fatal(name, err)
		}
		if q := shot.Quantity("t_vgs_below"); q != nil {
			t.Errorf("%s: t_vgs_below without a limit: %+v", name, q)
		}
		for _, key := range tt.keys {
			q := shot.Quantity(key)
			if q == nil || !math.IsNaN(q.Value) || len(q.Warnings) == 0 || q.Warnings[0].Code != tt.code {
				t.Errorf("%s: %s is %+v, expected none for %s", name, key, q, tt.code)
			}
		}
	}
}

package dpt_test

import (
	"math"
	"testing"

	"slewbook/dpt"
	"slewbook/dpt/condition"
	"slewbook/dpt/result"
	"slewbook/waveform"
	"slewbook/waveform/wavetest"
)

// branched is an ideal shot of two parallel devices: 60 % of the current through the
// first, 40 % through the second, which is late by 2 ns.
func branched(total bool) (*waveform.Capture, dpt.Options) {
	d := wavetest.Example()
	d.LLoad = 1e-3
	c := d.Capture(0.25e-9, -lead)
	d.ChI.Lag = 2e-9
	id, late := *c.Trace("Id"), d.Capture(0.25e-9, -lead).Trace("Id")
	a, b := id, *late
	a.Name, a.Y, b.Name, b.Y = "left", nil, "right", nil
	for k := range id.Y {
		a.Y, b.Y = append(a.Y, 0.6*id.Y[k]), append(b.Y, 0.4*late.Y[k])
		c.Trace("Id").Y[k] = a.Y[k] + b.Y[k]
	}
	if !total {
		c.Traces = []*waveform.Trace{c.Trace("Vds"), c.Trace("Vgs")}
	}
	c.Traces = append(c.Traces, &a, &b)
	opt := dpt.Defaults()
	opt.Align = dpt.AlignOff
	opt.Channels = map[result.Role]dpt.Channel{}
	for n, name := range []string{"left", "right"} {
		opt.Channels[result.Branch(n+1)] = dpt.Channel{Channel: condition.AsRead(), Source: name, Bandwidth: math.NaN(), GainU: 0.01, OffsetU: 0.01}
	}
	return c, opt
}

// Shares and spreads as they were put in: 60 and 40 %, (0.6 - 0.4)/0.5, and 2 ns. The
// load's ramp is one of 0.8 A/µs, so 2 ns are 2 mA. The late branch has V·I·2 ns or 10 % less
// energy at turn-on and more at turn-off (the skew theorem, derived); energies add up.
func TestParallelBranches(t *testing.T) {
	d := wavetest.Example()
	for _, total := range []bool{true, false} {
		c, opt := branched(total)
		shot, err := dpt.Measure(c, opt)
		if err != nil {
			t.Fatal(err)
		}
		for key, tt := range map[string]struct{ want, tol float64 }{
			"i_share_off.id_1":   {0.6, 1e-3},
			"i_share_on.id_2":    {0.4, 1e-3},
			"i_spread_off":       {0.4, 2e-3},
			"i_branch_off.id_2":  {0.4 * shot.Quantity("i_off").Value, 0.02 * 8},
			"i_branch_peak.id_1": {0.6 * d.I, 0.02 * d.I}, // no recovery: where the load's ramp is by then
			"t_spread_on":        {2e-9, 0.02e-9},
			"t_spread_off":       {2e-9, 0.02e-9},
			"t_branch_on.id_1":   {-1e-9, 0.01e-9},
			"t_branch_off.id_2":  {1e-9, 0.01e-9},
			"i_branch_on.id_1":   {0.6 * shot.Quantity("i_on").Value, 0.02 * 12},
			"i_spread_on":        {0.4, 2e-3},
			"e_spread_on":        {(0.6 - 0.36) / 0.48, 0.02},
			"e_spread_off":       {(0.6 - 0.44) / 0.52, 0.02},
			"e_branch_on.id_1":   {0.6 / (0.6 + 0.4*0.9) * shot.Quantity("e_on").Value, 0.01 * shot.Quantity("e_on").Value},
			"e_branch_off.id_1":  {0.6 / (0.6 + 0.4*1.1) * shot.Quantity("e_off").Value, 0.01 * shot.Quantity("e_off").Value},
		} {
			m := shot.Quantity(key)
			if m == nil {
				t.Fatalf("no %s", key)
			}
			if !(math.Abs(m.Value-tt.want) <= tt.tol) || !(m.U > 0) {
				t.Errorf("total %v: %s = %.5g ± %.2g, expected %.5g %v", total, key, m.Value, m.U, tt.want, m.Warnings)
			}
		}
		for _, side := range []string{"on", "off"} {
			sum := shot.Quantity("e_branch_"+side+".id_1").Value + shot.Quantity("e_branch_"+side+".id_2").Value
			if whole := shot.Quantity("e_" + side).Value; math.Abs(sum-whole) > 1e-6*whole {
				t.Errorf("e_%s = %.6g, its branches %.6g", side, whole, sum)
			}
		}
		if rest := shot.Quantity("i_sum_off"); total != (rest != nil) || total && math.Abs(rest.Value) > 1e-9 {
			t.Errorf("total %v: i_sum_off %v", total, rest)
		}
	}
}

// A branch whose sensor reads 10 % too much shows against the total.
func TestBranchAgainstTotal(t *testing.T) {
	c, opt := branched(true)
	for k := range c.Trace("left").Y {
		c.Trace("left").Y[k] *= 1.1
	}
	shot, err := dpt.Measure(c, opt)
	if err != nil {
		t.Fatal(err)
	}
	if m := shot.Quantity("i_sum_off"); math.Abs(m.Value-0.06) > 1e-3 || math.Abs(m.Value) < m.U {
		t.Errorf("i_sum_off = %.4g ± %.2g, expected 0.06", m.Value, m.U)
	}
}

// One branch alone is no sum, and a shot without branches has no rows of them.
func TestNoBranches(t *testing.T) {
	c, opt := branched(true)
	delete(opt.Channels, result.Branch(2))
	shot, err := dpt.Measure(c, opt)
	if err != nil {
		t.Fatal(err)
	}
	if shot.Quantity("i_spread_off") != nil || shot.Quantity("i_share_off.id_1") != nil {
		t.Error("rows of branches of one branch")
	}
	c, opt = branched(false)
	delete(opt.Channels, result.Branch(2))
	if _, err := dpt.Measure(c, opt); err == nil {
		t.Error("measured without a current")
	}
}

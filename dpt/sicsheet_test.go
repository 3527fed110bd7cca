package dpt_test

import (
	"math"
	"testing"

	"slewbook/dpt"
	"slewbook/waveform"
	"slewbook/waveform/wavetest"
)

// sicSheet is the row set of a SiC MOSFET's data sheet (C3M0016120K, rev. 4, September
// 2024, text seen): 800 V, 75 A, 65.7 µH, 175 °C, the body diode at 4 kA/µs.
var sicSheet = struct {
	v, i, l              float64
	didt, trr, irrm, qrr float64
	coss, eoss           float64 // at 1 kV
	onDiode, onBody      float64 // E_on where a SiC diode, where the body diode freewheels
}{
	v: 800, i: 75, l: 65.7e-6,
	didt: 4e9, trr: 30e-9, irrm: 64, qrr: 1238e-9,
	coss: 230e-12, eoss: 130e-6,
	onDiode: 1.1e-3, onBody: 2.3e-3,
}

// sicShot is the ideal shot of that row, without a recovery.
func sicShot() wavetest.DoublePulse {
	d := wavetest.Example()
	d.V, d.I, d.LLoad, d.LLoop = sicSheet.v, sicSheet.i, sicSheet.l, 0
	d.OnTi = sicSheet.i / sicSheet.didt
	return d
}

// The first pulse of the sheet's jig takes t_1 = L·I/V = 6.16 µs; the shot's own ramp
// tells the printed inductance.
func TestSheetFirstPulse(t *testing.T) {
	shot := measureIdeal(t, sicShot(), 0.5e-9, -lead)
	if l := shot.Quantity("l_load"); math.Abs(l.Value-sicSheet.l) > 1e-3*sicSheet.l {
		t.Errorf("l_load = %.5g H ± %.2g, the sheet has %.4g", l.Value, l.U, sicSheet.l)
	}
	l, i, v := shot.Quantity("l_load").Value, shot.Quantity("i_off").Value, shot.Quantity("v_bus_off").Value
	width := shot.Events[1].T - shot.Events[0].T
	// From v 50 % to v 50 % the load sees half the bus for half an edge at each end, 10 ns.
	if t1 := l * i / v; math.Abs(t1-6.16e-6) > 0.005e-6+20e-9 || math.Abs(width-t1) > 20e-9 {
		t.Errorf("L·I/V = %.4g s in a pulse of %.4g s, by the sheet 6.16 µs", t1, width)
	}
}

// E_oss of a sheet lies between that of a capacitance that does not change, ½·C·V², and
// that of one that falls with 1/√v, ⅔·C(V)·V² (Erickson and Maksimovic, 4.42 and 4.44,
// secondary): C_oss and E_oss of five sheets of SiC MOSFETs at 1 kV (texts seen; classes
// of the last three from their ratings). A device whose C_oss falls faster has more: of
// these none.
func TestSheetOutputEnergy(t *testing.T) {
	d := wavetest.Example()
	d.V = 1000
	opt := dpt.Defaults()
	opt.Align = dpt.AlignOff
	capture := d.Capture(1e-9, -lead)
	energy := func(curve []dpt.Capacitance) float64 {
		o := opt
		o.Given.Coss = curve
		shot, err := dpt.Measure(capture, o)
		if err != nil {
			t.Fatal(err)
		}
		return shot.Quantity("e_oss").Value
	}
	for _, row := range []struct {
		name     string
		c, eoss  float64
		low, top float64 // by hand from the row
	}{
		{"1.2 kV, 16 mΩ", sicSheet.coss, sicSheet.eoss, 115e-6, 153.3e-6},
		{"1.2 kV, 80 mΩ", 80e-12, 45e-6, 40e-6, 53.3e-6},
		{"1.7 kV, 80 mΩ", 105e-12, 65e-6, 52.5e-6, 70e-6},
		{"1.7 kV, 45 mΩ", 171e-12, 105e-6, 85.5e-6, 114e-6},
		{"1.7 kV, 1 Ω", 12e-12, 7e-6, 6e-6, 8e-6},
	} {
		root := []dpt.Capacitance{}
		for x := 0.0; x <= 1100; x += 0.5 {
			root = append(root, dpt.Capacitance{V: x, C: row.c * math.Sqrt(1000/max(x, 0.1))})
		}
		low, top := energy([]dpt.Capacitance{{V: 0, C: row.c}, {V: 1100, C: row.c}}), energy(root)
		if math.Abs(low-row.low) > 2e-3*row.low || math.Abs(top-row.top) > 5e-3*row.top {
			t.Errorf("%s: %.4g J and %.4g J, by hand %.4g and %.4g", row.name, low, top, row.low, row.top)
		}
		if !(low <= row.eoss && row.eoss <= top) {
			t.Errorf("%s: the sheet's %.4g J is not between %.4g and %.4g", row.name, row.eoss, low, top)
		}
	}
}

// recoveryOf puts the sheet's recovery on a capture of sicShot: it rises with the
// sheet's di/dt to I_RRM in t_a = 16.0 ns and is back at t_rr, bulging so that the charge
// is the printed one. Until then v stays at the bus, as where a diode blocks at once.
func recoveryOf(d wavetest.DoublePulse, dt float64) (with *waveform.Capture, ta float64) {
	ta = sicSheet.irrm / sicSheet.didt
	tb := sicSheet.trr - ta
	// ∫ (1 - xⁿ) dx = n/(n+1) of I_RRM·t_b is what the triangle up to the peak leaves.
	share := (sicSheet.qrr - sicSheet.irrm*ta/2) / (sicSheet.irrm * tb)
	n := share / (1 - share)
	meet := d.Answers(1, 2).Events[2].T - d.OnTv/2
	with = d.Capture(dt, -lead)
	id, vds := with.Trace("Id"), with.Trace("Vds")
	kept := *vds
	kept.Y = append([]float64(nil), vds.Y...)
	for k := range id.Y {
		switch x := id.Time(k) - meet; {
		case x > 0 && x <= ta:
			id.Y[k] += sicSheet.didt * x
		case x > ta && x < sicSheet.trr:
			id.Y[k] += sicSheet.irrm * (1 - math.Pow((x-ta)/tb, n))
		}
		if x := vds.Time(k) - meet; x > 0 && x < d.Width/2 {
			vds.Y[k] = kept.At(max(meet, vds.Time(k)-sicSheet.trr))
		}
	}
	return with, ta
}

// The sheet's recovery is no triangle: Q_rr is 1238 nC and ½·t_rr·I_RRM 960 nC, and each
// is read as what it is. t_a = I_RRM/(di_F/dt) = 16.0 ns is less than t_rr = 30 ns.
func TestSheetRecovery(t *testing.T) {
	c, ta := recoveryOf(sicShot(), 0.1e-9)
	opt := dpt.Defaults()
	opt.Align = dpt.AlignOff
	read := dpt.Readings(t, c, opt)
	for key, want := range map[string]float64{"i_rrm": 64, "didt_f": 4e9, "t_rr": 30e-9, "q_rr": 1238e-9} {
		// The load current under the lobe is known to some tenths of an ampere.
		if m := read[key]; !(math.Abs(m.Value-want) <= 0.01*want) {
			t.Errorf("%s = %.5g ± %.2g, the sheet has %.5g %v", key, m.Value, m.U, want, m.Warnings)
		}
	}
	if a := read["i_rrm"].Value / read["didt_f"].Value; math.Abs(a-16e-9) > 0.2e-9 || math.Abs(ta-16e-9) > 1e-15 || !(a < read["t_rr"].Value) {
		t.Errorf("t_a = %.4g s, by the sheet 16.0 ns; t_rr = %.4g s", a, read["t_rr"].Value)
	}
	// A line through two points of a bulging fall ends later than the fall itself.
	if half := read["q_rr.triangle"].Value; !(math.Abs(half-0.96e-6) < 0.2*0.96e-6) || !(half < 0.95*read["q_rr"].Value) {
		t.Errorf("½·t_rr·I_RRM = %.4g C, by the sheet 0.960 µC of 1.238 µC", half)
	}
}

// What the freewheeling device's recovery adds to the turn-on of the switch is
// V·(Q_rr + I·t_rr) where the voltage waits for it (Erickson and Maksimovic, 4.19,
// secondary). The sheet's two rows of E_on, with a SiC diode and with the body diode, are
// 1.2 mJ apart and V·Q_rr of its recovery row is 0.99 mJ, within 25 %: the current's own
// share I·t_rr is not in the rows, since the voltage of a real pair falls meanwhile.
func TestSheetRecoveryEnergy(t *testing.T) {
	d := sicShot()
	opt := dpt.Defaults()
	opt.Align = dpt.AlignOff
	energy := func(c *waveform.Capture) float64 { return dpt.Readings(t, c, opt)["e_on"].Value }
	with, _ := recoveryOf(d, 0.1e-9)
	more := energy(with) - energy(d.Capture(0.1e-9, -lead))
	if want := d.V * (sicSheet.qrr + d.I*sicSheet.trr); math.Abs(more-want) > 0.005*want {
		t.Errorf("the recovery adds %.4g J, V·(Q_rr + I·t_rr) is %.4g", more, want)
	}
	charge := more - d.V*d.I*sicSheet.trr
	if printed := sicSheet.onBody - sicSheet.onDiode; math.Abs(charge-0.99e-3) > 0.01e-3 || math.Abs(printed/charge-1) > 0.25 {
		t.Errorf("V·Q_rr = %.4g J, by the sheet 0.99 mJ and %.4g between its rows", charge, printed)
	}
}

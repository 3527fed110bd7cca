package dpt_test

import (
	"math"
	"strings"
	"testing"

	"slewbook/dpt"
	"slewbook/dpt/condition"
	"slewbook/dpt/result"
	"slewbook/waveform"
)

// Where the drain-source channel is dead, the gate is not taken for it.
func TestDeadVoltage(t *testing.T) {
	c := bench().Capture(0.5e-9, -lead)
	for name, to := range map[string]string{"Vds": "CH1", "Id": "CH2", "Vgs": "CH3"} {
		c.Trace(name).Name = to
	}
	if shot, err := dpt.Measure(c, dpt.Defaults()); err != nil || shot.Quantity("v_bus_off") == nil {
		t.Fatalf("all channels alive: %v", err)
	}
	for k := range c.Trace("CH1").Y {
		c.Trace("CH1").Y[k] = 0.4
	}
	if _, err := dpt.Measure(c, dpt.Defaults()); err == nil || !strings.Contains(err.Error(), "no trace could be given the role vds") {
		t.Errorf("a dead CH1: %v", err)
	}
}

// Two columns of one name, and a name that its unit contradicts, are refused: either
// reading could be the wrong one.
func TestRolesInDoubt(t *testing.T) {
	trace := func(name, unit string) *waveform.Trace {
		return &waveform.Trace{Name: name, Unit: unit, Dt: 1e-9, Y: make([]float64, 1000)}
	}
	for want, traces := range map[string][]*waveform.Trace{
		`"Id" and "Id (column 5)" could both be id`:              {trace("Vds", "V"), trace("Id", "A"), trace("Id (column 5)", "A")},
		`"Vds" is named as vds and has the unit A; expected V`:   {trace("Vds", "A"), trace("Id", "A")},
		`"Id" is named as id and has the unit W; expected A: co`: {trace("Vds", "V"), trace("Id", "W")},
	} {
		_, err := dpt.Measure(&waveform.Capture{Name: "x", Traces: traces}, dpt.Defaults())
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%v; want an error with %s", err, want)
		}
	}
}

// A current in volts needs a factor that is stated, were it 1. Without a unit it is as
// printed.
func TestCurrentInVolts(t *testing.T) {
	for _, tt := range []struct {
		unit        string
		scale       float64
		stated, err bool
	}{
		{unit: "V", scale: 1, err: true},
		{unit: "V", scale: 10},
		{unit: "V", scale: 1, stated: true},
		{unit: "", scale: 1},
		{unit: "A", scale: 1},
	} {
		c := bench().Capture(0.5e-9, -lead)
		c.Trace("Id").Unit = tt.unit
		for k := range c.Trace("Id").Y {
			c.Trace("Id").Y[k] /= tt.scale
		}
		opt := dpt.Defaults()
		ch := dpt.Channel{Source: "Id", Channel: condition.AsRead(), ScaleStated: tt.stated, Bandwidth: math.NaN()}
		ch.Scale = tt.scale
		opt.Channels = map[result.Role]dpt.Channel{result.Id: ch}
		shot, err := dpt.Measure(c, opt)
		if (err != nil) != tt.err || err != nil && !strings.Contains(err.Error(), `trace "Id" has the unit V, but the role id needs A`) {
			t.Errorf("%+v: %v", tt, err)
		}
		if hasCode(dpt.Look(c, opt).Warnings, waveform.ScaleSuspect) != tt.err {
			t.Errorf("%+v: look warns %v", tt, dpt.Look(c, opt).Warnings)
		}
		if tt.err {
			continue
		}
		if i := shot.Quantity("i_off").Value; !(math.Abs(i-20) < 0.5) {
			t.Errorf("%+v: i_off = %g", tt, i)
		}
	}
}

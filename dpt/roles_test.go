package dpt_test

import (
	"strings"
	"testing"

	"slewbook/dpt"
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

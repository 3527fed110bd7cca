package dpt_test

import (
	"strings"
	"testing"

	"slewbook/dpt"
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

//go:build oracle

package plan

import (
	"os/exec"
	"testing"

	"slewbook/waveform/wavetest"
)

// TestSpiceLive runs ngspice and compares with what it says now.
func TestSpiceLive(t *testing.T) {
	out, err := exec.Command("ngspice", "-b", "testdata/bench.cir").Output()
	if err != nil {
		t.Fatalf("ngspice: %v", err)
	}
	compareSpice(t, wavetest.Measured(string(out)))
}

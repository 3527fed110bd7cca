//go:build oracle

package plan

import (
	"os/exec"
	"testing"
)

// TestSpiceLive runs ngspice and compares with what it says now.
func TestSpiceLive(t *testing.T) {
	out, err := exec.Command("ngspice", "-b", "testdata/bench.cir").Output()
	if err != nil {
		t.Fatalf("ngspice: %v", err)
	}
	compareSpice(t, measured(string(out)))
}

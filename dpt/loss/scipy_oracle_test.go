//go:build oracle

package loss

import (
	"os/exec"
	"testing"
)

// TestSwitchedWaveformsLive runs the script and compares with what it says now.
func TestSwitchedWaveformsLive(t *testing.T) {
	cmd := exec.Command("/usr/bin/python3", "converter.py")
	cmd.Dir = "testdata"
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("python3: %v", err)
	}
	compareSwitched(t, readSwitched(t, out))
}

//go:build oracle

package waveform_test

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"os/exec"
	"testing"
)

// SciPy, run here and now, gives the stored readings. Another version may add
// its numbers up in another order; its own number stands beside them.
func TestSciPyLive(t *testing.T) {
	cmd := exec.Command("/usr/bin/python3", "make.py")
	cmd.Dir = scipyDir
	cmd.Stderr = os.Stderr
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("/usr/bin/python3 make.py (Debian: apt-get install python3-scipy): %v", err)
	}
	stored, err := os.ReadFile(scipyDir + "/waveform.json")
	if err != nil {
		t.Fatal(err)
	}
	var live, want map[string]any
	if err := json.Unmarshal(out, &live); err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(stored, &want); err != nil {
		t.Fatal(err)
	}
	for _, version := range []string{"scipy", "numpy"} {
		delete(live, version)
		delete(want, version)
	}
	same(t, "waveform.json", live, want)
}

// same compares two JSON values, numbers to 1e-9 of their own.
func same(t *testing.T, at string, live, want any) {
	t.Helper()
	switch w := want.(type) {
	case map[string]any:
		l, _ := live.(map[string]any)
		if len(l) != len(w) {
			t.Errorf("%s: %d entries live, %d stored", at, len(l), len(w))
		}
		for key := range w {
			same(t, at+"."+key, l[key], w[key])
		}
	case []any:
		l, _ := live.([]any)
		if len(l) != len(w) {
			t.Fatalf("%s: %d entries live, %d stored", at, len(l), len(w))
		}
		for k := range w {
			same(t, fmt.Sprintf("%s[%d]", at, k), l[k], w[k])
		}
	case float64:
		if l, ok := live.(float64); !ok || !(math.Abs(l-w) <= 1e-9*math.Abs(w)+1e-15) {
			t.Errorf("%s: %v live, %v stored", at, live, want)
		}
	default:
		if live != want {
			t.Errorf("%s: %v live, %v stored", at, live, want)
		}
	}
}

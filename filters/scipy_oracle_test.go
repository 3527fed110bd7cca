//go:build oracle

package filters_test

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"os/exec"
	"testing"
)

// SciPy, run here and now, gives the stored outputs. Another version may add
// its numbers up in another order; its own number stands beside them.
func TestSciPyLive(t *testing.T) {
	cmd := exec.Command("/usr/bin/python3", "filters.py")
	cmd.Dir = scipyDir
	cmd.Stderr = os.Stderr
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("/usr/bin/python3 filters.py (Debian: apt-get install python3-scipy): %v", err)
	}
	stored, err := os.ReadFile(scipyDir + "/filters.json")
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
	sameJSON(t, "filters.json", live, want)
}

// sameJSON compares two JSON values, numbers to 1e-9 of their own and 1e-9 V
// or A near 0, of signals of up to 600.
func sameJSON(t *testing.T, at string, live, want any) {
	t.Helper()
	switch w := want.(type) {
	case map[string]any:
		l, _ := live.(map[string]any)
		if len(l) != len(w) {
			t.Errorf("%s: %d entries live, %d stored", at, len(l), len(w))
		}
		for key := range w {
			sameJSON(t, at+"."+key, l[key], w[key])
		}
	case []any:
		l, _ := live.([]any)
		if len(l) != len(w) {
			t.Fatalf("%s: %d entries live, %d stored", at, len(l), len(w))
		}
		for k := range w {
			sameJSON(t, fmt.Sprintf("%s[%d]", at, k), l[k], w[k])
		}
	case float64:
		tol := 1e-9 * math.Abs(w)
		if math.Abs(w) > 1e-6 { // a sample, not a duration
			tol += 1e-9
		}
		if l, ok := live.(float64); !ok || !(math.Abs(l-w) <= tol) {
			t.Errorf("%s: %v live, %v stored", at, live, want)
		}
	default:
		if live != want {
			t.Errorf("%s: %v live, %v stored", at, live, want)
		}
	}
}

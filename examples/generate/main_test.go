package main

import (
	"math"
	"testing"

	"slewbook/waveform"
	"slewbook/waveform/format"
)

// The captures in the repository are what this program writes: sample by
// sample to one step of the converter, since processors that fuse
// multiplication and addition round a little differently.
func TestStoredCaptures(t *testing.T) {
	dir := t.TempDir()
	if err := generate(dir); err != nil {
		t.Fatal(err)
	}
	made, stored := read(t, dir), read(t, "../captures")
	if len(made) != len(stored) {
		t.Fatalf("%d captures made, %d stored", len(made), len(stored))
	}
	for k, c := range made {
		for n, tr := range c.Traces {
			old := stored[k].Traces[n]
			if tr.Name != old.Name || tr.Dt != old.Dt || tr.T0 != old.T0 || tr.Len() != old.Len() {
				t.Errorf("%s: trace %q is on another axis than the stored one", c.Name, tr.Name)
				continue
			}
			step := map[string]float64{"CH1": 800, "CH2": 180, "CH3": 40}[tr.Name] / 4096
			for j, y := range tr.Y {
				if math.Abs(y-old.Y[j]) > 1.01*step {
					t.Errorf("%s: sample %d of %q is %g, stored %g", c.Name, j, tr.Name, y, old.Y[j])
					break
				}
			}
		}
	}
}

func read(t *testing.T, dir string) []*waveform.Capture {
	t.Helper()
	sources, _, err := format.Find(dir, format.Options{})
	if err != nil {
		t.Fatal(err)
	}
	var all []*waveform.Capture
	for _, s := range sources {
		captures, err := s.Read()
		if err != nil {
			t.Fatal(err)
		}
		all = append(all, captures...)
	}
	return all
}

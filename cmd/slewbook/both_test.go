package main

import (
	"bytes"
	"encoding/json"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"slewbook/dpt/model"
	"slewbook/waveform/wavetest"
)

// One folder, one wiring, one run: in one capture the low side is under test, in the other
// the high side. Each is a shot at its position, also where an earlier run has measured it.
func TestMeasureBothPositions(t *testing.T) {
	in, out := t.TempDir(), filepath.Join(t.TempDir(), "results")
	d := wavetest.Example()
	d.Partner, d.Irrm, d.Tb = true, 12, 15e-9
	write := func(name string, f func(io.Writer) error) string {
		path := filepath.Join(in, name)
		if err := writeFile(path, f); err != nil {
			t.Fatal(err)
		}
		return path
	}
	c := d.Capture(0.5e-9, -0.5e-6)
	write("low.csv", func(w io.Writer) error { return model.WriteCSV(w, c) })
	// The same with the high side under test: v and v_other change places, so do the gates
	// and, counted the other way, the currents.
	names := map[string]string{"Vds": "V_other", "V_other": "Vds", "Id": "I_other", "I_other": "Id", "Vgs": "Vgs_other", "Vgs_other": "Vgs"}
	for _, tr := range c.Traces {
		tr.Name = names[tr.Name]
		for k := range tr.Y {
			if tr.Unit == "A" {
				tr.Y[k] = -tr.Y[k]
			}
		}
	}
	write("high.csv", func(w io.Writer) error { return model.WriteCSV(w, c) })
	setup := filepath.Join(t.TempDir(), "bench.toml")
	if err := os.WriteFile(setup, []byte("[conditions]\nposition = \"low side\"\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	args := []string{"measure", in, "--setup", setup, "--json", "--out", out, "--no-figures", "-q"}
	var stdout, stderr bytes.Buffer
	if code := run(args, &stdout, &stderr); code != exitShots || !strings.Contains(stdout.String(), "channel.id.invert") {
		t.Errorf("without --both exit %d, expected the high side's shot to be refused: %s", code, stderr.String())
	}
	for _, again := range []string{"first", "again"} {
		stdout.Reset()
		if code := run(append(args, "--both"), &stdout, &stderr); code != exitDone {
			t.Fatalf("%s: exit %d: %s", again, code, stderr.String())
		}
		found := map[string]string{}
		for line := range strings.Lines(stdout.String()) {
			var s struct {
				Capture    string
				Conditions map[string]any
			}
			if err := json.Unmarshal([]byte(line), &s); err != nil {
				t.Fatal(err)
			}
			found[s.Capture], _ = s.Conditions["position"].(string)
		}
		if len(found) != 2 || found["low"] != "low side" || found["high.partner"] != "high side" {
			t.Errorf("%s: %v", again, found)
		}
	}
}

package main

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"slewbook/dpt/model"
)

// writeCaptures writes the first captures of the invented campaign: one bus,
// four currents.
func writeCaptures(t *testing.T, n int) string {
	t.Helper()
	dir := t.TempDir()
	for k, s := range model.Campaign()[:n] {
		var buf bytes.Buffer
		if err := model.WriteCSV(&buf, model.Capture(s.Waveforms(), model.DemoInstrument(), uint64(k+1))); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(dir, filepath.Base(s.Name)+".csv"), buf.Bytes(), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	return dir
}

func TestMeasureOverlay(t *testing.T) {
	in, out := writeCaptures(t, 2), filepath.Join(t.TempDir(), "results")
	var stdout, stderr bytes.Buffer
	if code := run([]string{"measure", in, "--out", out, "--overlay", "current", "--edge", "on", "--style", "slide", "--figure-format", "pdf"}, &stdout, &stderr); code != exitDone {
		t.Fatalf("exit %d: %s", code, stderr.String())
	}
	found, err := filepath.Glob(filepath.Join(out, "overlays", "*"))
	if err != nil || len(found) != 2 || filepath.Base(found[0]) != "turn-on-current-01.csv" || filepath.Base(found[1]) != "turn-on-current-01.pdf" {
		t.Errorf("overlays: %q, %v", found, err)
	}
	if parts, _ := filepath.Glob(filepath.Join(out, "figures", "*.pdf")); len(parts) != 6 { // record and two edges of each
		t.Errorf("figures: %q", parts)
	}
	stderr.Reset()
	if code := run([]string{"measure", in, "--out", out, "--overlay", "temperature", "--figure-format", "svg"}, &stdout, &stderr); code != exitDone ||
		!strings.Contains(stderr.String(), "no overlay: among 4 measured edges no two shots differ in that condition only (temperature)") {
		t.Errorf("exit %d: %s", code, stderr.String())
	}
}

func TestMeasureRefusesFigureFlags(t *testing.T) {
	for want, args := range map[string][]string{
		`--overlay draws figures; give a folder for them with --out`:                     {"--overlay", "bus"},
		`--overlay: overlay "bias": expected bus, current, rg, temperature, all`:         {"--overlay", "bias", "--out", "x"},
		`--edge "up": expected on or off`:                                                {"--edge", "up"},
		`--edge says which edge --overlay draws; give --overlay, too`:                    {"--edge", "on"},
		`--style: figure style "poster": expected screen, one-column, two-column, slide`: {"--style", "poster"},
		`--figure-format: figure format "gif": expected png, svg, pdf`:                   {"--figure-format", "gif"},
	} {
		var stdout, stderr bytes.Buffer
		if code := run(append([]string{"measure", "."}, args...), &stdout, &stderr); code != exitFailed || strings.TrimSpace(stderr.String()) != "slewbook: "+want {
			t.Errorf("%q: exit %d, %q, want %q", args, code, stderr.String(), want)
		}
	}
}

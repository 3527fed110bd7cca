package main

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// Converted captures read as the original does, and nothing is written over.
func TestConvert(t *testing.T) {
	const original = "../../testdata/layouts/semicolon-thousands-comma.csv"
	look := func(path string) string {
		var stdout, stderr bytes.Buffer
		if code := run([]string{"look", path, "--json"}, &stdout, &stderr); code != exitDone {
			t.Fatalf("look %s: %d %s", path, code, stderr.String())
		}
		_, channels, _ := strings.Cut(stdout.String(), `"channels"`)
		return channels
	}
	for _, form := range []string{"csv", "npz", "parquet"} {
		out := t.TempDir()
		var stdout, stderr bytes.Buffer
		args := []string{"convert", original, "--to", form, "--out", out}
		if code := run(args, &stdout, &stderr); code != exitDone || stdout.Len() > 0 {
			t.Fatalf("%s: %d %s%s", form, code, stdout.String(), stderr.String())
		}
		if got, want := look(filepath.Join(out, "semicolon-thousands-comma."+form)), look(original); got != want {
			t.Errorf("%s:\n%s\nwant\n%s", form, got, want)
		}
		if code := run(args, &stdout, &stderr); code != exitShots || !strings.Contains(stderr.String(), "exists; name another folder") {
			t.Errorf("%s again: %d %s", form, code, stderr.String())
		}
	}
}

// A file without time is refused, and read with the set-up's interval.
func TestFileWithoutTime(t *testing.T) {
	const file = "../../testdata/layouts/no-time-none.csv"
	setup := filepath.Join(t.TempDir(), "bench.toml")
	if err := os.WriteFile(setup, []byte("[file]\ninterval = \"1.6 ns\"\nstart = \"-20 ns\"\n"), 0o666); err != nil {
		t.Fatal(err)
	}
	var stdout, stderr bytes.Buffer
	if code := run([]string{"look", file, "--json"}, &stdout, &stderr); code != exitShots || !strings.Contains(stdout.String(), "no column that holds time") {
		t.Errorf("without: %d %s", code, stdout.String())
	}
	stdout.Reset()
	if code := run([]string{"look", file, "--json", "--setup", setup}, &stdout, &stderr); code != exitDone ||
		!strings.Contains(stdout.String(), `"t0":-2e-8`) || !strings.Contains(stdout.String(), `"dt":1.6e-9`) {
		t.Errorf("with: %d %s %s", code, stdout.String(), stderr.String())
	}
}

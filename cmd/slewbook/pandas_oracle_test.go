//go:build oracle

package main

import (
	"bytes"
	"os/exec"
	"regexp"
	"strings"
	"testing"
)

// The README's question to pandas runs on the results of the demo's captures and
// answers what the JSON holds.
func TestReadmePandas(t *testing.T) {
	block := regexp.MustCompile("(?s)```python\n(.*?)```").FindStringSubmatch(readReadme(t))
	if block == nil {
		t.Fatal("README.md has no block of python")
	}
	t.Chdir(t.TempDir())
	var out, errs bytes.Buffer
	if code := run([]string{"demo", "demo"}, &out, &errs); code != exitDone {
		t.Fatalf("demo: exit status %d: %s", code, errs.String())
	}
	setup := writePlanSetup(t, "[file]\npattern = \"bus-{v_bus}/i-{i_load}\"\n")
	if code := run([]string{"measure", "demo/captures", "--setup", setup, "--out", "results"}, &out, &errs); code != exitDone {
		t.Fatalf("measure: exit status %d: %s", code, errs.String())
	}
	got, err := exec.Command("/usr/bin/python3", "-c", block[1]).CombinedOutput()
	if err != nil {
		t.Fatalf("%v: %s", err, got)
	}
	if n := strings.Count(string(got), "\n"); n != 2+4 || !strings.Contains(string(got), "100") {
		t.Errorf("pandas printed %d lines; want two of a header and four currents:\n%s", n, got)
	}
}

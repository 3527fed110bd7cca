//go:build oracle

package main

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// The README's question to pandas runs on the results that its own command makes, and
// answers with every shot by its current.
func TestReadmePandas(t *testing.T) {
	doc := readReadme(t)
	block := regexp.MustCompile("(?s)```python\n(.*?)```").FindStringSubmatch(doc)
	if block == nil {
		t.Fatal("README.md has no block of python")
	}
	const command = "measure examples/captures --setup examples/bench.toml --out results"
	if !strings.Contains(doc, "    slewbook "+command+"\n") {
		t.Fatalf("README.md does not tell %q", command)
	}
	dir := t.TempDir()
	if err := os.CopyFS(filepath.Join(dir, "examples"), os.DirFS(filepath.Join(root, "examples"))); err != nil {
		t.Fatal(err)
	}
	t.Chdir(dir)
	var out, errs bytes.Buffer
	if code := run(append(strings.Fields(command), "--no-figures"), &out, &errs); code != exitDone {
		t.Fatalf("measure: exit status %d: %s", code, errs.String())
	}
	got, err := exec.Command("/usr/bin/python3", "-c", block[1]).CombinedOutput()
	if err != nil {
		t.Fatalf("%v: %s", err, got)
	}
	if shots := regexp.MustCompile(`(?m)^i-(\S+)`).FindAllString(string(got), -1); strings.Join(shots, " ") != "i-20A i-40A i-60A i-60A-clipped" || !strings.Contains(string(got), "e_on") {
		t.Errorf("pandas printed\n%s\nexpected the four shots of the examples with e_on", got)
	}
}

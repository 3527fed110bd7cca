package main

import (
	"os"
	"path/filepath"
	"testing"
)

// The report that measure leaves is the one that report makes of the results; it goes
// with the next run that is to have none.
func TestMeasureReport(t *testing.T) {
	captures, setup := filepath.Join(root, "examples", "captures"), filepath.Join(root, "examples", "bench.toml")
	dir := t.TempDir()
	results, again := filepath.Join(dir, "results"), filepath.Join(dir, "again.html")
	slewbook(t, exitDone, "measure", captures, "--setup", setup, "--out", results, "--no-figures")
	slewbook(t, exitDone, "report", results, "--setup", setup, "--out", again)
	read := func(path string) string {
		text, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		return string(text)
	}
	if read(filepath.Join(results, "report.html")) != read(again) {
		t.Error("the report of measure is another than that of its results")
	}
	slewbook(t, exitDone, "measure", captures, "--setup", setup, "--out", results, "--no-figures", "--no-report")
	if _, err := os.Stat(filepath.Join(results, "report.html")); !os.IsNotExist(err) {
		t.Errorf("--no-report leaves the report of the run before: %v", err)
	}
}

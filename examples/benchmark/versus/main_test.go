package main

import (
	"os"
	"regexp"
	"strings"
	"testing"
)

// Both are run, their times are told a shot, and one that fails ends it with what it
// said.
func TestCompare(t *testing.T) {
	var out strings.Builder
	itself := []string{os.Args[0], "-test.run=^$"}
	if err := compare(&out, 4, contestant{"one", itself}, contestant{"other", itself}); err != nil {
		t.Fatal(err)
	}
	want := `(?m)^one +[\d.]+ ms of clock, +[\d.]+ ms of processor time a shot
other +[\d.]+ ms of clock, +[\d.]+ ms of processor time a shot
4 shots: [\d.]+ times the throughput by the clock, .*\n$`
	if !regexp.MustCompile(want).MatchString(out.String()) {
		t.Errorf("got %s", out.String())
	}
	err := compare(&out, 4, contestant{"broken", []string{os.Args[0], "-test.nothing"}})
	if err == nil || !strings.Contains(err.Error(), "broken") || !strings.Contains(err.Error(), "test.nothing") {
		t.Errorf("error %v", err)
	}
	if err := run([]string{t.TempDir()}, &out); err == nil || !strings.Contains(err.Error(), "examples/benchmark/campaign") {
		t.Errorf("error %v", err)
	}
}

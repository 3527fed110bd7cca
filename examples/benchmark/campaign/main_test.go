package main

import (
	"path/filepath"
	"testing"

	"slewbook/dpt"
	"slewbook/dpt/setup"
	"slewbook/waveform/format"
)

// The command writes as many captures of as many samples as it is told, each with
// noise of its own, and a set-up they are measured with.
func TestCampaign(t *testing.T) {
	dir := t.TempDir()
	if err := run([]string{dir, "2", "10000"}); err != nil {
		t.Fatal(err)
	}
	bench, err := setup.Load(filepath.Join(dir, "bench.toml"))
	if err != nil {
		t.Fatal(err)
	}
	sources, _, err := format.Find(filepath.Join(dir, "captures"), format.Options{})
	if err != nil || len(sources) != 2 {
		t.Fatalf("%d captures, %v", len(sources), err)
	}
	sums := map[string]bool{}
	for _, s := range sources {
		captures, err := s.Read()
		if err != nil {
			t.Fatal(err)
		}
		if n := len(captures[0].Traces[0].Y); n < 9990 || n > 10000 {
			t.Errorf("%s: %d samples", s.Name, n)
		}
		sums[captures[0].SHA256[0]] = true
		if _, err := dpt.Measure(captures[0], bench.Options()); err != nil {
			t.Errorf("%s: %v", s.Name, err)
		}
	}
	if len(sums) != 2 {
		t.Error("the captures are the same")
	}
	if run(nil) == nil || run([]string{dir, "many"}) == nil {
		t.Error("wrong arguments were taken")
	}
}

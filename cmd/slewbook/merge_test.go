package main

import (
	"fmt"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"slewbook/waveform/format"
)

// Shards that are merged give the bytes of one run over all, however often and in
// whatever order they are merged.
func TestMergeShards(t *testing.T) {
	captures := copyCampaign(t, 2)
	dir := t.TempDir()
	at := func(name string) string { return filepath.Join(dir, name) }
	measure := func(out string, args ...string) {
		t.Helper()
		slewbook(t, exitDone, append([]string{"measure", captures, "--out", at(out), "--figure-format", "svg"}, args...)...)
	}
	measure("whole")
	want := tree(t, at("whole"))
	shots := 0
	for k := 1; k <= 3; k++ {
		measure(fmt.Sprintf("part-%d", k), "--shard", fmt.Sprintf("%d/3", k))
		shots += strings.Count(tree(t, at(fmt.Sprintf("part-%d", k)))["shots.jsonl"], "\n")
	}
	if shots != 8 {
		t.Errorf("the shards hold %d shots, want 8", shots)
	}
	for _, parts := range [][]string{{"part-1", "part-2", "part-3"}, {"part-3", "part-1", "part-2", "part-1"}, {"merged", "part-2"}} {
		args := []string{"merge", "--out", at("merged")}
		for _, p := range parts {
			args = append(args, at(p))
		}
		if _, stderr := slewbook(t, exitDone, args...); stderr != "" {
			t.Errorf("%q: %s", parts, stderr)
		}
		if d := cmp.Diff(want, tree(t, at("merged"))); d != "" {
			t.Errorf("%q: merged results differ (-whole +merged):\n%s", parts, d)
		}
	}
	// A run over all goes on from merged results.
	slewbook(t, exitDone, "measure", captures, "--out", at("merged"), "--figure-format", "svg")
	if d := cmp.Diff(want, tree(t, at("merged"))); d != "" {
		t.Errorf("measured on merged results:\n%s", d)
	}
}

// A capture appears once, though it has two names; two captures of one name both
// appear; other settings make another row.
func TestMergeNames(t *testing.T) {
	captures := copyCampaign(t, 2)
	dir := t.TempDir()
	at := func(name string) string { return filepath.Join(dir, name) }
	measure := func(out string, args ...string) {
		t.Helper()
		slewbook(t, exitDone, append(append([]string{"measure"}, args...), "--out", at(out), "--no-figures")...)
	}
	measure("a", filepath.Join(captures, "day-0"))
	measure("b", filepath.Join(captures, "day-1"))
	measure("c", captures)
	measure("d", filepath.Join(captures, "day-0"), "--energy-window", "i10-v10")
	merge := func(parts ...string) (names []string, stderr string) {
		t.Helper()
		args := []string{"merge", "--out", at("out")}
		for _, p := range parts {
			args = append(args, at(p))
		}
		_, stderr = slewbook(t, exitDone, args...)
		for _, line := range strings.Split(strings.TrimSpace(tree(t, at("out"))["shots.jsonl"]), "\n") {
			name, _, _ := strings.Cut(strings.TrimPrefix(line, `{"capture":"`), `"`)
			names = append(names, strings.TrimPrefix(name, filepath.ToSlash(dir)+"/"))
		}
		return names, stderr
	}
	four := func(lead string) (out []string) {
		for _, name := range []string{"i-20A", "i-40A", "i-60A", "i-60A-clipped"} {
			out = append(out, lead+name)
		}
		return out
	}
	for _, c := range []struct {
		parts, names []string
		note         string
	}{
		{[]string{"a", "b"}, append(four("a/"), four("b/")...), ""},
		{[]string{"a", "d"}, append(four("a/"), four("d/")...), ""},
		{[]string{"c", "b"}, append(four("day-0/"), four("")...), "are the same capture; it appears once"},
	} {
		names, stderr := merge(c.parts...)
		if d := cmp.Diff(c.names, names); d != "" {
			t.Errorf("%q (-want +got):\n%s", c.parts, d)
		}
		if c.note == "" && stderr != "" || !strings.Contains(stderr, c.note) {
			t.Errorf("%q: stderr %q, want a note that has %q", c.parts, stderr, c.note)
		}
	}
	if _, stderr := slewbook(t, exitFailed, "merge", captures, "--out", at("out")); !strings.Contains(stderr, "is no result folder") {
		t.Errorf("captures merged: %s", stderr)
	}
}

// Every capture falls to one shard, and the shards are about as large.
func TestShard(t *testing.T) {
	var all []shotSource
	for k := range 4000 {
		all = append(all, shotSource{Source: format.Source{Name: fmt.Sprintf("shot-%04d", k)}})
	}
	seen := map[string]int{}
	for k := 1; k <= 16; k++ {
		var s shard
		if err := s.Set(fmt.Sprintf("%d/16", k)); err != nil {
			t.Fatal(err)
		}
		part := s.in(all)
		for _, source := range part {
			seen[source.Name]++
		}
		if n := len(part); n < 180 || n > 320 { // 250 and 4.5 standard deviations of a binomial
			t.Errorf("shard %s has %d of 4000", s.String(), n)
		}
	}
	for _, source := range all {
		if seen[source.Name] != 1 {
			t.Fatalf("%s is in %d shards", source.Name, seen[source.Name])
		}
	}
	for _, text := range []string{"", "3", "0/4", "5/4", "a/b", "1/2x", "-1/3"} {
		var s shard
		if s.Set(text) == nil {
			t.Errorf("%q was taken", text)
		}
	}
}

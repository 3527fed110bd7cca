package main

import (
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// Every command that finds something out says it to a program as well: objects, one a
// line, and nothing else on stdout. The others write a text of a form of its own.
func TestJSONEverywhere(t *testing.T) {
	dir := t.TempDir()
	in := func(parts ...string) string { return filepath.Join(append([]string{root, "examples"}, parts...)...) }
	out := func(name string) string { return filepath.Join(dir, name) }
	captures, one, bench, results := in("captures"), in("captures", "i-40A.csv.gz"), in("bench.toml"), out("results")
	if err := os.WriteFile(out("limits.toml"), []byte("[limit.e_on]\nmax = \"600 uJ\"\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	args := map[string][][]string{
		"measure":     {{captures, "--setup", bench, "--out", results, "--no-figures", "--no-report", "-q"}},
		"look":        {{captures}},
		"list":        {{captures, "--setup", bench, "--out", out("list.csv")}},
		"convert":     {{one, "--out", out("clean")}, {one, "--out", out("clean")}},
		"align":       {{one}},
		"definitions": {{}, {"e_on"}, {"e_on.i10-v2"}},
		"explain":     {{"e_on"}, {"plan.v_sag"}, {"losses.p_rr"}, {one, "e_on", "--setup", bench}},
		"curves":      {{results}},
		"report":      {{results, "--out", out("report.html")}},
		"compare":     {{results, results}},
		"judge":       {{results, "--limits", out("limits.toml")}},
		"repeat":      {{results, "--by", "device"}},
		"merge":       {{results, "--out", out("merged")}},
		"losses":      {{in("converter", "grids"), "--converter", in("converter", "buck.toml")}},
		"plan":        {{"--setup", in("plan.toml")}},
		"demo":        {}, // testdata/script/curves.txtar
		"validate":    {{"--shots", "2"}},
		"version":     {{}},
	}
	without := map[string]bool{"setup": true, "manual": true, "completion": true, "help": true}
	for _, cmd := range newRootCmd().Commands() {
		if flag := cmd.Flags().Lookup("json") != nil; flag != (args[cmd.Name()] != nil) || flag == without[cmd.Name()] {
			t.Errorf("%s: --json is known: %v; tried here: %v", cmd.Name(), flag, args[cmd.Name()] != nil)
		}
	}
	try := func(name string) {
		for _, more := range args[name] {
			var stdout, stderr strings.Builder
			code := run(append([]string{name, "--json"}, more...), &stdout, &stderr)
			if code == exitFailed {
				t.Errorf("%s %v: %s", name, more, stderr.String())
			}
			for _, line := range strings.Split(strings.TrimSuffix(stdout.String(), "\n"), "\n") {
				var object map[string]any
				if err := json.Unmarshal([]byte(line), &object); err != nil {
					t.Errorf("%s %v: %v in %.80q", name, more, err, line)
				}
			}
		}
	}
	try("measure")
	delete(args, "measure")
	for name := range args {
		try(name)
	}
}

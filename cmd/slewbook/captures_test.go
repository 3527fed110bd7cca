package main

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// Where two folders hold a name, all names of the run are led by as much of their
// folders' as tells them apart.
func TestFindSourcesNames(t *testing.T) {
	dir := t.TempDir()
	text, err := os.ReadFile(filepath.Join("..", "..", "examples", "captures", "i-20A.csv.gz"))
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{"mon/hot/a", "mon/hot/b", "tue/hot/a", "tue/cold/c"} {
		path := filepath.Join(dir, filepath.FromSlash(name)+".csv.gz")
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, text, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	for _, c := range []struct{ paths, want string }{
		{"mon/hot tue/cold", "a b c"},
		{"mon/hot tue/hot", "mon/hot/a mon/hot/b tue/hot/a"},
		{"mon/hot tue/hot tue/cold", "mon/hot/a mon/hot/b tue/hot/a tue/cold/c"},
		{"mon/hot/a.csv.gz tue/hot/a.csv.gz", "mon/hot/a tue/hot/a"},
	} {
		var paths, names []string
		for _, p := range strings.Fields(c.paths) {
			paths = append(paths, filepath.Join(dir, filepath.FromSlash(p)))
		}
		var stderr bytes.Buffer
		sources, err := findSources(paths, bench{}, &stderr)
		if err != nil {
			t.Fatal(err)
		}
		for _, s := range sources {
			names = append(names, s.Name)
		}
		if diff := cmp.Diff(strings.Fields(c.want), names); diff != "" {
			t.Errorf("%s: %s", c.paths, diff)
		}
		if told := strings.Contains(stderr.String(), "led by their folders"); told != strings.Contains(c.want, "/") {
			t.Errorf("%s: stderr %q", c.paths, stderr.String())
		}
	}
}

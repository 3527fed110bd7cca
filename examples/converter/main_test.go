package main

import (
	"bytes"
	"os"
	"path/filepath"
	"testing"
)

// The grids that are kept are what the program makes.
func TestGrids(t *testing.T) {
	dir := t.TempDir()
	if err := run([]string{dir}); err != nil {
		t.Fatal(err)
	}
	for _, e := range invented {
		name := e.key + ".json"
		want, err := os.ReadFile(filepath.Join("grids", name))
		if err != nil {
			t.Fatal(err)
		}
		got, err := os.ReadFile(filepath.Join(dir, name))
		if err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(got, want) {
			t.Errorf("%s differs from grids/%s; go run ./examples/converter examples/converter/grids writes it anew", name, name)
		}
	}
}

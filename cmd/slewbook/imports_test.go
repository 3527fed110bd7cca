package main

import (
	"go/parser"
	"go/token"
	"io/fs"
	"path"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// module is the path of this module; root is where it starts from here.
const (
	module = "slewbook"
	root   = "../.."
)

// arrow says what the files of a package, its tests aside, may import.
type arrow struct {
	ours    []string // packages of this module
	stdOnly bool     // no library beyond the standard one
}

// arrows has a line for every package: they run one way, waveform and filters
// at the bottom, dpt on them, reports on plain results, and only cmd, the
// examples and the benchmark know all. The generator of dpt/model, against which the measuring is
// validated, shares no code with it.
var arrows = map[string]arrow{
	"waveform":          {stdOnly: true},
	"waveform/unit":     {stdOnly: true},
	"waveform/wavetest": {ours: []string{"waveform"}, stdOnly: true},
	"waveform/format":   {ours: []string{"waveform", "waveform/unit"}},
	"filters":           {},
	"dpt":               {ours: []string{"waveform", "waveform/unit", "filters", "dpt/result", "dpt/condition", "dpt/uncertainty"}},
	"dpt/uncertainty":   {ours: []string{"dpt/result"}, stdOnly: true},
	"dpt/result":        {ours: []string{"waveform"}, stdOnly: true},
	"dpt/condition":     {ours: []string{"waveform", "filters", "dpt/result"}},
	"dpt/setup":         {ours: []string{"waveform", "waveform/unit", "dpt", "dpt/result", "dpt/condition", "dpt/plan", "dpt/campaign", "dpt/limits"}},
	"dpt/curve":         {ours: []string{"waveform", "waveform/unit", "dpt/result", "dpt/uncertainty"}},
	"dpt/loss":          {ours: []string{"waveform/unit", "dpt/result", "dpt/curve", "dpt/uncertainty"}},
	"dpt/campaign":      {ours: []string{"waveform", "waveform/unit", "waveform/format", "dpt/result"}},
	"dpt/limits":        {ours: []string{"waveform/unit", "dpt/result"}},
	"dpt/plan":          {ours: []string{"waveform/unit", "dpt/result"}},
	"dpt/model":         {ours: []string{"waveform", "dpt/result"}},
	"reports/viewer":    {ours: []string{"waveform", "waveform/unit", "dpt/result", "reports"}},
	"reports":           {ours: []string{"waveform", "waveform/unit", "dpt/result"}},
}

// everything is for those who put the parts together.
var everything = []string{
	"waveform", "waveform/unit", "waveform/format", "filters",
	"dpt", "dpt/result", "dpt/condition", "dpt/setup", "dpt/model", "dpt/plan", "dpt/curve", "dpt/loss", "dpt/limits", "dpt/campaign", "dpt/uncertainty", "reports", "reports/viewer",
}

// arrowOf returns the arrows of a package and whether it is known.
func arrowOf(pkg string) (arrow, bool) {
	if pkg == "cmd/slewbook" || strings.HasPrefix(pkg, "examples/") {
		return arrow{ours: everything}, true
	}
	a, ok := arrows[pkg]
	return a, ok
}

// TestImports reads the imports of every file and fails on an arrow that is not
// drawn above. It reads files rather than asking the go command, whose answer
// the test cache would keep.
func TestImports(t *testing.T) {
	files := 0
	err := filepath.WalkDir(root, func(name string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if d.IsDir() && name != root && (strings.HasPrefix(d.Name(), ".") || d.Name() == "testdata") {
			return fs.SkipDir
		}
		if filepath.Ext(name) != ".go" || strings.HasSuffix(name, "_test.go") {
			return nil
		}
		files++
		rel, err := filepath.Rel(root, name)
		if err != nil {
			return err
		}
		checkImports(t, name, filepath.ToSlash(rel))
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	if files < 50 {
		t.Errorf("only %d files were looked at: is %q the root of the module?", files, root)
	}
}

func checkImports(t *testing.T, name, rel string) {
	pkg := path.Dir(rel)
	allowed, ok := arrowOf(pkg)
	if !ok {
		t.Errorf("%s: package %s has no arrows; draw them in imports_test.go, as DEVELOPERS.md tells", rel, pkg)
		return
	}
	f, err := parser.ParseFile(token.NewFileSet(), name, nil, parser.ImportsOnly)
	if err != nil {
		t.Error(err)
		return
	}
	for _, spec := range f.Imports {
		imported, err := strconv.Unquote(spec.Path.Value)
		if err != nil {
			t.Error(err)
			continue
		}
		own, isOurs := strings.CutPrefix(imported, module+"/")
		first, _, _ := strings.Cut(imported, "/")
		switch {
		case isOurs && !slices.Contains(allowed.ours, own):
			t.Errorf("%s: package %s imports %s, but may import of ours only %v", rel, pkg, own, allowed.ours)
		case !isOurs && allowed.stdOnly && strings.Contains(first, "."):
			t.Errorf("%s: package %s imports %s, but may import the standard library only", rel, pkg, imported)
		case imported == "C":
			t.Errorf("%s: package %s uses cgo, but slewbook is pure Go", rel, pkg)
		}
	}
}

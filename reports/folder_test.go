package reports

import (
	"bytes"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"slewbook/dpt/result"
)

// files lists the files below dir as slash paths, sorted.
func files(t *testing.T, dir string) []string {
	t.Helper()
	var out []string
	err := filepath.WalkDir(dir, func(path string, e os.DirEntry, err error) error {
		if err == nil && !e.IsDir() {
			rel, _ := filepath.Rel(dir, path)
			out = append(out, filepath.ToSlash(rel))
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	slices.Sort(out)
	return out
}

func writeFolder(t *testing.T, dir string, shots ...*result.Shot) {
	t.Helper()
	f, err := NewFolder(dir, DefaultFolder())
	if err != nil {
		t.Fatal(err)
	}
	for _, s := range shots {
		add(t, f, s)
	}
	if err := f.Close(); err != nil {
		t.Fatal(err)
	}
}

// add draws a shot and adds it as a source of its own.
func add(t *testing.T, f *Folder, s *result.Shot) {
	t.Helper()
	if s.Traces != nil {
		if err := f.Draw(s); err != nil {
			t.Fatal(err)
		}
	}
	if err := f.Add(s.Capture, originOf(s), []*result.Shot{s}); err != nil {
		t.Fatal(err)
	}
}

func originOf(s *result.Shot) Origin { return Origin{Content: "of " + s.Capture, Settings: s.Settings} }

func TestFolderHoldsWhatTheRenderersWrite(t *testing.T) {
	parent := t.TempDir()
	dir := filepath.Join(parent, "new", "results")
	shots := append(tableShots(), halfBridge(16e-9))
	writeFolder(t, dir, shots...)

	want := []string{"figures/invented/800V_60A-01.csv", "figures/invented/800V_60A-01.png", "figures/invented/800V_60A-01.svg", "quantities.csv", "quantities.parquet", "shots.csv", "shots.jsonl", "sources.jsonl", "waveforms/invented/800V_60A-01.json"}
	if got := files(t, parent); !slices.Equal(got, each(want, func(s string) string { return "new/results/" + s })) {
		t.Errorf("got %q, want %q", got, want)
	}
	var wide, long, lines bytes.Buffer
	if err := WriteShotsCSV(&wide, shots); err != nil {
		t.Fatal(err)
	}
	if err := WriteQuantitiesCSV(&long, shots); err != nil {
		t.Fatal(err)
	}
	for _, s := range shots {
		if err := WriteShotJSON(&lines, s); err != nil {
			t.Fatal(err)
		}
	}
	for name, want := range map[string]*bytes.Buffer{shotsCSV: &wide, quantitiesCSV: &long, shotsJSON: &lines} {
		got, err := os.ReadFile(filepath.Join(dir, name))
		if err != nil || !bytes.Equal(got, want.Bytes()) {
			t.Errorf("%s differs from its renderer's output (%v)", name, err)
		}
	}
}

func TestFolderReplacesOursAndKeepsTheRest(t *testing.T) {
	parent := t.TempDir()
	dir := filepath.Join(parent, "results")
	old := halfBridge(16e-9)
	old.Capture = "old/shot"
	writeFolder(t, dir, old)
	for _, name := range []string{"notes.txt", "figures/mine.svg"} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte("mine"), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	writeFolder(t, dir, halfBridge(16e-9))
	want := []string{
		"figures/invented/800V_60A-01.csv", "figures/invented/800V_60A-01.png", "figures/invented/800V_60A-01.svg", "figures/mine.svg",
		"notes.txt", "quantities.csv", "quantities.parquet", "shots.csv", "shots.jsonl", "sources.jsonl", "waveforms/invented/800V_60A-01.json",
	}
	if got := files(t, dir); !slices.Equal(got, want) {
		t.Errorf("got %q, want %q", got, want)
	}
	rows, err := os.ReadFile(filepath.Join(dir, shotsCSV))
	if err != nil || strings.Contains(string(rows), "old/shot") {
		t.Errorf("shots.csv still holds the old shot (%v)", err)
	}
	if left, _ := os.ReadDir(parent); len(left) != 1 {
		t.Errorf("something is left beside the results: %v", left)
	}
}

func TestFolderAbortLeavesNothing(t *testing.T) {
	parent := t.TempDir()
	f, err := NewFolder(filepath.Join(parent, "results"), DefaultFolder())
	if err != nil {
		t.Fatal(err)
	}
	if err := f.Draw(halfBridge(16e-9)); err != nil { // drawn but not done
		t.Fatal(err)
	}
	if err := f.Abort(); err != nil {
		t.Fatal(err)
	}
	if left, _ := os.ReadDir(parent); len(left) != 0 {
		t.Errorf("left behind: %v", left)
	}
}

func TestFolderRefuses(t *testing.T) {
	parent := t.TempDir()
	file := filepath.Join(parent, "taken")
	if err := os.WriteFile(file, nil, 0o644); err != nil {
		t.Fatal(err)
	}
	if _, err := NewFolder(file, DefaultFolder()); err == nil || !strings.Contains(err.Error(), "is a file; expected a folder") {
		t.Errorf("a file as folder: %v", err)
	}

	foreign := filepath.Join(parent, "foreign")
	if err := os.Mkdir(foreign, 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(foreign, shotsJSON), []byte("my diary"), 0o644); err != nil {
		t.Fatal(err)
	}
	if _, err := NewFolder(foreign, DefaultFolder()); err == nil || !strings.Contains(err.Error(), "is no result file of slewbook") {
		t.Errorf("a foreign shots.jsonl: %v", err)
	}
	if got := files(t, parent); !slices.Equal(got, []string{"foreign/shots.jsonl", "taken"}) {
		t.Errorf("refusing changed the files: %q", got)
	}

	f, err := NewFolder(filepath.Join(parent, "twice"), DefaultFolder())
	if err != nil {
		t.Fatal(err)
	}
	s := halfBridge(16e-9)
	add(t, f, s)
	if err := f.Add(s.Capture, originOf(s), []*result.Shot{s}); err == nil || !strings.Contains(err.Error(), s.Capture) {
		t.Errorf("the same capture twice: %v", err)
	}
	if _, err := NewFolder(filepath.Join(parent, "twice"), DefaultFolder()); err == nil || !strings.Contains(err.Error(), "another run") {
		t.Errorf("two runs at once: %v", err)
	}
	if err := f.Abort(); err != nil {
		t.Fatal(err)
	}
}

// Two captures never share a figure, and none leaves the folder.
func TestFigurePath(t *testing.T) {
	for in, want := range map[string]string{
		"800V/shot-001": "800V/shot-001",
		"../../etc/x":   "%2E%2E/%2E%2E/etc/x",
		"/abs":          "%/abs",
		"a:b#3":         "a%3Ab#3",
		"con":           "%63on",
		"NUL.txt":       "%4EUL.txt",
		"é µ":           "é µ",
		"x\xff.":        "x%FF%2E",
	} {
		if got := figurePath(in, ""); got != want {
			t.Errorf("figurePath(%q) = %q, want %q", in, got, want)
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		name := rapid.OneOf(rapid.String(), rapid.StringMatching(`[.%/ :a\x00-\x1f]{0,6}`), rapid.StringN(150, 400, -1))
		a, b := name.Draw(t, "a"), name.Draw(t, "b")
		pa, pb := figurePath(a, ""), figurePath(b, "")
		if a != b && pa == pb {
			t.Fatalf("%q and %q both give %q", a, b, pa)
		}
		if !filepath.IsLocal(filepath.FromSlash(pa)) || strings.ContainsAny(pa, `\:*?"<>|`) {
			t.Fatalf("%q gives %q", a, pa)
		}
		for _, part := range strings.Split(pa, "/") {
			if len(part) > longest {
				t.Fatalf("%d bytes in %q", len(part), part)
			}
		}
	})
}

// Overlays stand beside the figures, and those of an earlier run go.
func TestFolderHoldsOverlays(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "results")
	write := func(name string) {
		t.Helper()
		f, err := NewFolder(dir, FolderOptions{Style: screen(), Formats: []string{"pdf"}})
		if err != nil {
			t.Fatal(err)
		}
		if _, err := f.AddOverlays(campaign(), name); err != nil {
			t.Fatal(err)
		}
		if err := f.Close(); err != nil {
			t.Fatal(err)
		}
	}
	write("current")
	if err := os.WriteFile(filepath.Join(dir, overlaysDir, "turn-on-mine.pdf"), nil, 0o644); err != nil {
		t.Fatal(err)
	}
	write("bus")
	want := []string{
		"overlays/turn-off-bus-01.csv", "overlays/turn-off-bus-01.pdf", "overlays/turn-off-bus-02.csv", "overlays/turn-off-bus-02.pdf",
		"overlays/turn-on-bus-01.csv", "overlays/turn-on-bus-01.pdf", "overlays/turn-on-bus-02.csv", "overlays/turn-on-bus-02.pdf",
		"overlays/turn-on-mine.pdf", "quantities.csv", "quantities.parquet", "shots.csv", "shots.jsonl", "sources.jsonl",
	}
	if got := files(t, dir); !slices.Equal(got, want) {
		t.Errorf("got %q, want %q", got, want)
	}
}

package main

import (
	"bytes"
	"compress/gzip"
	"fmt"
	"io"
	"io/fs"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"slewbook/dpt/result"
	"slewbook/waveform"
)

// copyCampaign writes the examples' captures n times, each time packed otherwise,
// so that their content differs, and returns the folder.
func copyCampaign(t *testing.T, n int) string {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "captures")
	files, err := filepath.Glob(filepath.Join(root, "examples", "captures", "*.csv.gz"))
	if err != nil || len(files) != 4 {
		t.Fatalf("captures %q: %v", files, err)
	}
	for k := range n {
		day := filepath.Join(dir, fmt.Sprintf("day-%d", k))
		if err := os.MkdirAll(day, 0o755); err != nil {
			t.Fatal(err)
		}
		for _, file := range files {
			if err := os.WriteFile(filepath.Join(day, filepath.Base(file)), repack(t, file, day), 0o644); err != nil {
				t.Fatal(err)
			}
		}
	}
	return dir
}

// repack returns a packed file with a comment in its head.
func repack(t *testing.T, file, comment string) []byte {
	t.Helper()
	in, err := os.Open(file)
	if err != nil {
		t.Fatal(err)
	}
	defer in.Close()
	r, err := gzip.NewReader(in)
	if err != nil {
		t.Fatal(err)
	}
	var out bytes.Buffer
	w := gzip.NewWriter(&out)
	w.Comment = filepath.Base(comment)
	if _, err := io.Copy(w, r); err != nil {
		t.Fatal(err)
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

// tree reads all files below a folder.
func tree(t *testing.T, dir string) map[string]string {
	t.Helper()
	out := map[string]string{}
	err := filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		b, err := os.ReadFile(path)
		rel, _ := filepath.Rel(dir, path)
		out[filepath.ToSlash(rel)] = string(b)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// slewbook runs the program and demands its exit status.
func slewbook(t *testing.T, status int, args ...string) (stdout, stderr string) {
	t.Helper()
	var out, errs bytes.Buffer
	if got := run(args, &out, &errs); got != status {
		t.Fatalf("slewbook %q: exit status %d, want %d; stderr:\n%s", args, got, status, errs.String())
	}
	return out.String(), errs.String()
}

// A run that is killed at any moment, again and again, ends in the same bytes as
// one that is left alone, and leaves nothing beside them.
func TestMeasureKilled(t *testing.T) {
	captures := copyCampaign(t, 2)
	dir := t.TempDir()
	whole, killed := filepath.Join(dir, "whole"), filepath.Join(dir, "killed")
	slewbook(t, exitDone, "measure", captures, "--out", whole, "--figure-format", "svg")
	command := func() *exec.Cmd {
		cmd := exec.Command(os.Args[0], "measure", captures, "--out", killed, "--figure-format", "svg")
		cmd.Env = append(os.Environ(), asProgram+"=1")
		return cmd
	}
	journal := filepath.Join(dir, ".killed.unfinished", "journal.jsonl")
	random := rand.New(rand.NewPCG(1, 2))
	for k := range 20 {
		cmd := command()
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		if k%4 == 0 { // so many moments are late, however slow the machine
			waitForGrowth(journal)
		}
		time.Sleep(time.Duration(10+random.IntN(100)) * time.Millisecond)
		cmd.Process.Kill() // it may be done
		cmd.Wait()
	}
	out, err := command().CombinedOutput()
	if err != nil || !strings.Contains(string(out), "of 8 captures are as an earlier run measured them") {
		t.Fatalf("the last run: %v\n%s", err, out)
	}
	if d := cmp.Diff(tree(t, whole), tree(t, killed)); d != "" {
		t.Errorf("the results differ (-left alone +killed):\n%s", d)
	}
	if left, _ := os.ReadDir(dir); len(left) != 2 {
		t.Errorf("something is left beside the results: %v", left)
	}
}

// waitForGrowth waits until a file has grown, for 10 s at most.
func waitForGrowth(path string) {
	size := func() int64 {
		if info, err := os.Stat(path); err == nil {
			return info.Size()
		}
		return 0
	}
	from := size()
	for end := time.Now().Add(10 * time.Second); size() <= from && time.Now().Before(end); {
		time.Sleep(time.Millisecond)
	}
}

// What an earlier run has left is measured again only if the capture, the
// settings or the conditions have changed, and the output is the same.
func TestMeasureKeepsWhatIsDone(t *testing.T) {
	captures := copyCampaign(t, 1)
	dir := t.TempDir()
	out := filepath.Join(dir, "out")
	gone := false // one of the captures, since the run before
	kept := func(want int, args ...string) string {
		t.Helper()
		stdout, stderr := slewbook(t, exitDone, append([]string{"measure", captures, "--out", out, "--no-figures"}, args...)...)
		told := ""
		if want > 0 {
			told = fmt.Sprintf("slewbook: %d of 4 captures are as an earlier run measured them; --redo measures them again\n", want)
		}
		if gone {
			told += fmt.Sprintf("slewbook: %s: results of 1 captures of an earlier run are replaced, which are not among these\n", out)
		}
		if stderr != told {
			t.Errorf("%q: stderr %q, want %q", args, stderr, told)
		}
		return stdout
	}
	first := kept(0)
	results := tree(t, out)
	if second := kept(4); second != first {
		t.Errorf("the text differs:\n%s", cmp.Diff(first, second))
	}
	if d := cmp.Diff(results, tree(t, out)); d != "" {
		t.Errorf("the results of a rerun differ:\n%s", d)
	}
	kept(0, "--redo")
	kept(0, "--energy-window", "i10-v10")
	kept(4, "--energy-window", "i10-v10")

	setup := filepath.Join(dir, "bench.toml")
	for k, temperature := range []string{"25 °C", "125 °C"} {
		if err := os.WriteFile(setup, []byte("[conditions]\ntj = \""+temperature+"\"\n"), 0o644); err != nil {
			t.Fatal(err)
		}
		text := kept(0, "--setup", setup)
		if again := kept(4, "--setup", setup); again != text || !strings.Contains(text, temperature) {
			t.Errorf("run %d: the conditions are not those of the set-up:\n%s", k, again)
		}
	}

	// One capture changes, one goes, one comes.
	change := func(from, to string) {
		t.Helper()
		b, err := os.ReadFile(filepath.Join(captures, "day-0", from))
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(captures, "day-0", to), b, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	kept(0)
	change("i-60A.csv.gz", "i-40A.csv.gz")
	change("i-60A.csv.gz", "i-80A.csv.gz")
	if err := os.Remove(filepath.Join(captures, "day-0", "i-20A.csv.gz")); err != nil {
		t.Fatal(err)
	}
	gone = true
	kept(2)
	gone = false
	results = tree(t, out)
	kept(0, "--redo")
	if d := cmp.Diff(results, tree(t, out)); d != "" {
		t.Errorf("the results differ from those of a run anew:\n%s", d)
	}
	if strings.Contains(results["shots.csv"], "i-20A") {
		t.Error("a capture that is gone has a row")
	}
}

// Figures that are asked for are there, also where the numbers were kept, and
// those of shots that are gone are not.
func TestMeasureKeepsFigures(t *testing.T) {
	captures := copyCampaign(t, 1)
	out := filepath.Join(t.TempDir(), "out")
	figures := func(args ...string) []string {
		t.Helper()
		slewbook(t, exitDone, append([]string{"measure", captures, "--out", out, "--figure-format", "svg"}, args...)...)
		found, err := filepath.Glob(filepath.Join(out, "figures", "day-0", "*.svg"))
		if err != nil {
			t.Fatal(err)
		}
		return found
	}
	if n := len(figures("--no-figures")); n != 0 {
		t.Errorf("%d figures that nobody asked for", n)
	}
	all := figures()
	if len(all) != 4 {
		t.Fatalf("figures %q, want 4", all)
	}
	if err := os.Remove(all[0]); err != nil {
		t.Fatal(err)
	}
	if n := len(figures()); n != 4 {
		t.Errorf("%d figures after one was lost, want 4", n)
	}
	if err := os.Remove(filepath.Join(captures, "day-0", "i-20A.csv.gz")); err != nil {
		t.Fatal(err)
	}
	if n := len(figures()); n != 3 {
		t.Errorf("%d figures of 3 shots", n)
	}
}

// Broken files are listed with their reasons, and all others measured.
func TestMeasureBrokenFiles(t *testing.T) {
	captures := copyCampaign(t, 5)
	broken := []string{"day-3/i-20A.csv.gz"} // 5 % of 20
	for _, name := range broken {
		path := filepath.Join(captures, filepath.FromSlash(name))
		b, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, b[:len(b)/2], 0o644); err != nil {
			t.Fatal(err)
		}
	}
	stdout, _ := slewbook(t, exitShots, "measure", captures, "--json", "--align", "off")
	lines := strings.Split(strings.TrimSpace(stdout), "\n")
	if len(lines) != 20 {
		t.Fatalf("%d rows, want 20", len(lines))
	}
	for _, line := range lines {
		bad := false
		for _, name := range broken {
			bad = bad || strings.Contains(line, `"capture":"`+strings.TrimSuffix(name, ".csv.gz")+`"`)
		}
		if measured := strings.Contains(line, `"error":null`); measured == bad {
			t.Errorf("broken %v, measured %v: %.200s", bad, measured, line)
		}
	}
}

// A log has a plain line now and then, a terminal one line that is written over;
// time left goes by the rate of what was measured in this run.
func TestProgress(t *testing.T) {
	var log bytes.Buffer
	clock := time.Unix(0, 0)
	p := &progress{w: &log, now: func() time.Time { return clock }, total: 100, start: clock, last: clock}
	for range 40 {
		clock = clock.Add(time.Second)
		p.step(gathered{})
	}
	p.end()
	if want := "slewbook: 30 of 100 captures, 1 a second, 1m10s left\n"; log.String() != want {
		t.Errorf("log %q, want %q", log.String(), want)
	}
	log.Reset()
	p = &progress{w: &log, terminal: true, now: p.now, total: 2, start: clock, last: clock}
	for range 2 {
		clock = clock.Add(time.Second)
		p.step(gathered{})
	}
	p.end()
	if want := "\r1 of 2 captures, 1 a second, 1s left\r2 of 2 captures, 1 a second, 0s left\r" + strings.Repeat(" ", 36) + "\r"; log.String() != want {
		t.Errorf("terminal %q, want %q", log.String(), want)
	}
}

// Who asks for it is told of each capture what became of it, and which took longest.
func TestVerbose(t *testing.T) {
	var log bytes.Buffer
	clock := time.Unix(0, 0)
	p := &progress{w: &log, verbose: true, now: func() time.Time { return clock }, total: 2, start: clock, last: clock}
	off := result.Measurement{Key: "e_off", Definition: "v10-i2", Over: waveform.Interval{From: 1e-6, To: 1.05e-6}, Warnings: []waveform.Warning{{Code: waveform.Recrossed}}}
	clock = clock.Add(time.Second)
	p.step(gathered{source: "a", took: time.Second, shots: []*result.Shot{{Capture: "a", Quantities: []result.Measurement{off}}}})
	clock = clock.Add(time.Minute)
	p.step(gathered{source: "b", took: 1500 * time.Millisecond, shots: []*result.Shot{{Capture: "b", Err: fs.ErrInvalid}}})
	p.end()
	want := `slewbook: a: 1.00 s; e_off v10-i2 from 1.00000 µs to 1.05000 µs; warned of recrossed
slewbook: b: 1.50 s; refused: invalid argument
slewbook: 2 captures in 61.0 s, most of it for b: 1.50 s
`
	if got := log.String(); got != want {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}
}

// Outcomes come in the order of the items, with no more at work than there are
// cores, and the first error ends it.
func TestInOrder(t *testing.T) {
	items := make([]int, 500)
	for k := range items {
		items[k] = k
	}
	next := 0
	err := inOrder(items, func(k int) int {
		time.Sleep(time.Duration((k*7)%5) * 10 * time.Microsecond)
		return k
	}, func(k int) error {
		if k != next {
			t.Fatalf("%d came, want %d", k, next)
		}
		if next++; next == 400 {
			return fs.ErrInvalid
		}
		return nil
	})
	if err != fs.ErrInvalid || next != 400 {
		t.Errorf("ended at %d with %v", next, err)
	}
}

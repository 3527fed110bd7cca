package main

import (
	"bytes"
	"flag"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/spf13/pflag"

	"slewbook/dpt/result"
	"slewbook/dpt/setup"
	"slewbook/waveform"
)

// -readme writes the outputs of commands into the README afresh:
//
//	go test ./cmd/slewbook -run TestReadme -readme
var writeReadme = flag.Bool("readme", false, "write the outputs in README.md afresh")

func readReadme(t *testing.T) string {
	t.Helper()
	b, err := os.ReadFile(filepath.Join(root, "README.md"))
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

// section returns what stands under a heading of the README.
func section(t *testing.T, doc, heading string) string {
	t.Helper()
	_, rest, ok := strings.Cut(doc, "\n## "+heading+"\n")
	if !ok {
		t.Fatalf("the README has no section %q", heading)
	}
	text, _, _ := strings.Cut(rest, "\n## ")
	return text
}

// firstCells returns the code words that lead the rows of a section's tables.
func firstCells(text string) []string {
	var names []string
	for _, m := range regexp.MustCompile("(?m)^\\| `([^`]+)` \\|").FindAllStringSubmatch(text, -1) {
		names = append(names, m[1])
	}
	return names
}

// The README lists the closed lists whole, in their order, and nothing else.
func TestReadmeLists(t *testing.T) {
	doc := readReadme(t)
	var codes, keys, windows []string
	for _, c := range waveform.Codes {
		codes = append(codes, string(c))
	}
	for _, c := range result.Columns {
		keys = append(keys, c.Key)
		if row := "| `" + c.Key + "` | " + c.Unit + " |"; !strings.Contains(doc, row) {
			t.Errorf("README.md has no row that begins with %s", row)
		}
	}
	for _, w := range result.Windows {
		windows = append(windows, w.Name)
		row := "| `" + w.Name + "` | " + string(w.Edge) + " | " + w.Start.String() + " | " + w.End.String() + " | " + w.Source + " |"
		if !strings.Contains(doc, row) {
			t.Errorf("README.md has no row %s", row)
		}
	}
	for _, list := range []struct {
		heading string
		want    []string
	}{{"Warning codes", codes}, {"Quantities", keys}, {"Energy windows", windows}} {
		if d := cmp.Diff(list.want, firstCells(section(t, doc, list.heading))); d != "" {
			t.Errorf("README.md, %s (-code +README):\n%s", list.heading, d)
		}
	}
}

// A code that nothing raises is marked so, and one that is raised is not.
func TestReadmeReservedCodes(t *testing.T) {
	names := map[waveform.Code]string{}
	decl := regexp.MustCompile(`(?m)^\t(\w+) +Code = "([a-z-]+)"`)
	src, err := os.ReadFile(filepath.Join(root, "waveform", "warning.go"))
	if err != nil {
		t.Fatal(err)
	}
	for _, m := range decl.FindAllStringSubmatch(string(src), -1) {
		names[waveform.Code(m[2])] = m[1]
	}
	var code strings.Builder
	for _, dir := range []string{"waveform/format", "dpt", "dpt/condition", "dpt/campaign", "cmd/slewbook"} {
		files, err := filepath.Glob(filepath.Join(root, dir, "*.go"))
		if err != nil {
			t.Fatal(err)
		}
		for _, f := range files {
			if !strings.HasSuffix(f, "_test.go") {
				b, err := os.ReadFile(f)
				if err != nil {
					t.Fatal(err)
				}
				code.Write(b)
			}
		}
	}
	doc := section(t, readReadme(t), "Warning codes")
	for _, c := range waveform.Codes {
		raised := regexp.MustCompile(`waveform\.` + names[c] + `\b`).MatchString(code.String())
		reserved := strings.Contains(doc, "| `"+string(c)+"` | not yet |")
		if raised == reserved {
			t.Errorf("code %s: raised %v, marked as not yet raised %v", c, raised, reserved)
		}
	}
}

// The README names every command, flag and key of the set-up file.
func TestReadmeNames(t *testing.T) {
	doc := readReadme(t)
	want := []string{}
	for _, cmd := range newRootCmd().Commands() {
		want = append(want, "slewbook "+cmd.Name())
		cmd.Flags().VisitAll(func(f *pflag.Flag) { want = append(want, "--"+f.Name) })
	}
	for _, m := range regexp.MustCompile(`(?m)^# (\w+) = `).FindAllStringSubmatch(string(setup.Template()), -1) {
		if m[1] != "gate_driver" { // the template's example of a note
			want = append(want, "`"+m[1]+"`")
		}
	}
	for _, name := range want {
		if !strings.Contains(doc, name) {
			t.Errorf("README.md does not name %s", name)
		}
	}
}

// inCopy goes to an empty folder with a copy of the examples, as it is at the
// root of a clone.
func inCopy(t *testing.T) {
	t.Helper()
	dir := t.TempDir()
	if err := os.CopyFS(filepath.Join(dir, "examples"), os.DirFS(filepath.Join(root, "examples"))); err != nil {
		t.Fatal(err)
	}
	t.Chdir(dir)
	t.Setenv("LC_ALL", "C.UTF-8")
}

// The commands in the README run as they stand there. The demo has tests of
// its own.
func TestReadmeCommands(t *testing.T) {
	doc := readReadme(t)
	inCopy(t)
	var lines []string
	for _, m := range regexp.MustCompile(`(?m)^    slewbook (.+)$`).FindAllStringSubmatch(doc, -1) {
		lines = append(lines, m[1])
	}
	if len(lines) < 5 {
		t.Fatalf("only %d commands found in README.md", len(lines))
	}
	for _, line := range lines {
		var stdout, stderr bytes.Buffer
		if state := run(strings.Fields(line), &stdout, &stderr); state != exitDone {
			t.Errorf("slewbook %s: exit status %d, stderr:\n%s", line, state, stderr.String())
		}
	}
	for _, name := range []string{"shots.csv", "quantities.csv", "quantities.parquet", "shots.jsonl", "figures/i-60A.png", "figures/i-60A.svg"} {
		if _, err := os.Stat(filepath.Join("results", filepath.FromSlash(name))); err != nil {
			t.Errorf("README.md promises %s: %v", name, err)
		}
	}
}

// The outputs in the README are what the commands print.
func TestReadmeOutputs(t *testing.T) {
	doc := readReadme(t)
	readme, err := filepath.Abs(filepath.Join(root, "README.md"))
	if err != nil {
		t.Fatal(err)
	}
	inCopy(t)
	block := regexp.MustCompile("(?s)<!-- output: ([^\n]+) -->\n```text\n(.*?)```\n<!-- end -->")
	found := block.FindAllStringSubmatch(doc, -1)
	if len(found) == 0 {
		t.Fatal("README.md holds no output")
	}
	for _, m := range found {
		var stdout, stderr bytes.Buffer
		run(strings.Fields(m[1]), &stdout, &stderr)
		if *writeReadme {
			doc = strings.Replace(doc, m[0], "<!-- output: "+m[1]+" -->\n```text\n"+stdout.String()+"```\n<!-- end -->", 1)
			continue
		}
		if d := cmp.Diff(strings.Split(stdout.String(), "\n"), strings.Split(m[2], "\n")); d != "" {
			t.Errorf("slewbook %s (-printed +README; go test ./cmd/slewbook -run TestReadme -readme writes it afresh):\n%s", m[1], d)
		}
	}
	if *writeReadme {
		if err := os.WriteFile(readme, []byte(doc), 0o644); err != nil {
			t.Fatal(err)
		}
	}
}

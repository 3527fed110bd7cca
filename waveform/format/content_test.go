package format

import (
	"os"
	"path/filepath"
	"testing"
)

// The sums are those that captures carry; the content changes with a byte, with
// the member of an archive and with how a file is read, not with a name.
func TestContent(t *testing.T) {
	dir := t.TempDir()
	write := func(name, text string) {
		t.Helper()
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	const table = "Time (s),Vds (V),Id (A)\n0,1,0\n1e-9,2,0\n2e-9,3,0\n"
	write("a.csv", table)
	write("b.csv", table)
	write("c.csv", table+"3e-9,4,0\n")
	content := map[string]string{}
	sources, _, err := Find(dir, Options{})
	if err != nil {
		t.Fatal(err)
	}
	for _, s := range sources {
		sums, err := s.Sums()
		if err != nil {
			t.Fatal(err)
		}
		captures, err := s.Read()
		if err != nil {
			t.Fatal(err)
		}
		if len(sums) != 1 || sums[0] != captures[0].SHA256[0] {
			t.Errorf("%s: sums %q, its capture has %q", s.Name, sums, captures[0].SHA256)
		}
		content[s.Name] = s.Content(sums)
		s.opt.Start = 1e-6
		if s.Content(sums) == content[s.Name] {
			t.Errorf("%s: read with another start, its content is the same", s.Name)
		}
		s.opt.Start, s.members = 0, []string{"x.csv"}
		if s.Content(sums) == content[s.Name] {
			t.Errorf("%s: as a member of an archive, its content is the same", s.Name)
		}
	}
	if content["a"] != content["b"] || content["a"] == content["c"] {
		t.Errorf("contents %v: a and b are alike, c is not", content)
	}
}

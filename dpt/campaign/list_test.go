package campaign

import (
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// number returns a condition of the entry, NaN without it.
func number(t *testing.T, e *Entry, key string) float64 {
	t.Helper()
	if e == nil {
		t.Fatal("no entry")
	}
	for _, c := range e.Conditions {
		if c.Key == key {
			return c.Value
		}
	}
	return math.NaN()
}

func TestListForms(t *testing.T) {
	const want = 298.15
	for name, text := range map[string]string{
		"comma":             "file,v_bus (V),i_load (A),tj (°C),remark\nrun/a.csv,800,60,25,\"first, cold\"\n",
		"semicolon, commas": "file;v_bus [kV];i_load (A);tj (K);remark\r\nrun\\a.csv;0,8;6,0e1;298,15;x\r\n",
		"tab, units inside": "\ufefffile\tv_bus\ti_load\ttj\tremark\t# seen\n./run/a\t800 V\t60 A\t25 °C\tx\t799 V\n",
		"trailing column":   "file,v_bus (V),i_load (A),tj (°C),\nrun/a.isf,800,60,25,\n\n",
	} {
		l, err := parseList("l.csv", []byte(text))
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		e := l.Find("run/a")
		if v, i, tj := number(t, e, "v_bus"), number(t, e, "i_load"), number(t, e, "tj"); v != 800 || i != 60 || math.Abs(tj-want) > 1e-9 {
			t.Errorf("%s: %g V, %g A, %g K; want 800, 60, %g", name, v, i, tj, want)
		}
		if l.Find("run/a#2") != e || l.Find("run/b") != nil {
			t.Errorf("%s: a segment belongs to its file's row, another file to none", name)
		}
	}
}

func TestListErrors(t *testing.T) {
	for text, want := range map[string]string{
		"":                                        "is empty",
		"file,v_bus (V)\n":                        "no shot",
		"v_bus (V)\n1\n":                          `no column is named "file"`,
		"file,vbus (V)\na,1\n":                    `l.csv:1: "vbus" is no condition`,
		"file,i_load (A)\na,-20\n":                "l.csv:2: i_load is -20 A; expected more than nothing",
		"file,v_bus (A)\na,1\n":                   "l.csv:1: the unit (A) does not fit v_bus",
		"file,remark (V)\na,1\n":                  "remark has no unit",
		"file,v_bus (V\na,1\n":                    "not closed",
		"file,tj (K),tj (°C)\na,1,1\n":            "two columns",
		"file,v_bus\na,800\n":                     "l.csv:2: v_bus is 800 without a unit",
		"file,v_bus (V)\na,8oo\n":                 "l.csv:2: v_bus",
		"file,repeat\na,0\n":                      "whole number",
		"file,v_bus (V)\n,800\n":                  "l.csv:2: the row names no file",
		"file,v_bus (V)\na.csv,1\nb,2\na.csv,3\n": "l.csv:4: a.csv stands in line 2 already",
		"file,v_bus (V)\na,800,99\n":              "column 3",
		"file,v_bus (V)\na,1,000\nb,\"1\n":        "l.csv",
		"file,tj (°C)\na,-300\n":                  "absolute zero",
		"file,file_on\na.csv,b.csv\nb.csv,c\n":    "b.csv stands in line 2 already",
	} {
		_, err := parseList("l.csv", []byte(text))
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v; want an error with %q", text, err, want)
		}
	}
	if _, err := ReadList(filepath.Join(t.TempDir(), "none.csv")); err == nil {
		t.Error("a list that is not there was read")
	}
}

// What list drafts is read back as it was.
func TestDraftReadsBack(t *testing.T) {
	shot := shotOf(t, map[string]float64{"v_bus": 650, "i_load": 12.5, "rg_on": 4.7, "tj": 233.15})
	var b strings.Builder
	b.WriteString(strings.Join(Header(), ",") + "\n" + strings.Join(Row(shot), ",") + "\n")
	path := filepath.Join(t.TempDir(), "l.csv")
	if err := os.WriteFile(path, []byte(b.String()), 0o644); err != nil {
		t.Fatal(err)
	}
	l, err := ReadList(path)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range shot.Conditions {
		if got := number(t, l.Find(shot.Capture), c.Key); math.Abs(got-c.Value) > 1e-9 {
			t.Errorf("%s: %g; want %g", c.Key, got, c.Value)
		}
	}
}

// The names are those that finding captures gives; where two files differ in
// their extension only, the whole name counts.
func TestListNames(t *testing.T) {
	l, err := parseList("l.csv", []byte("file,repeat\na\\b.csv,1\n./c.csv.gz,2\ni-12.5,3\nd.csv#2,4\ne.csv,5\ne.bin,6\n"))
	if err != nil {
		t.Fatal(err)
	}
	for capture, want := range map[string]float64{"a/b": 1, "a/b#7": 1, "c": 2, "i-12.5": 3, "d#2": 4, "e.csv": 5, "e.bin": 6} {
		if got := number(t, l.Find(capture), "repeat"); got != want {
			t.Errorf("%s: row %g; want %g", capture, got, want)
		}
	}
	for _, none := range []string{"d", "d#1", "e"} {
		if l.Find(none) != nil {
			t.Errorf("%s was found", none)
		}
	}
}

// A row without a capture is found, a segment stands for its file, and a file for
// the segments that the list names.
func TestRowsWithoutCapture(t *testing.T) {
	l, err := parseList("l.csv", []byte("file,rg_on (ohm)\na.csv,1\nrun/b,2\nc#2,3\nd,4\n"))
	if err != nil {
		t.Fatal(err)
	}
	var lost []string
	for _, e := range l.Without([]string{"a", "run/b#1", "c"}) {
		lost = append(lost, e.Capture)
	}
	if len(lost) != 1 || lost[0] != "d" {
		t.Errorf("%q; want d alone", lost)
	}
	if (*List)(nil).Without([]string{"a"}) != nil {
		t.Error("no list misses no row")
	}
}

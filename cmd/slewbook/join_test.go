package main

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"slewbook/dpt/result"
	"slewbook/waveform"
)

// A shot whose edges are files of their own holds the turn-off of the one and the
// turn-on of the other, and their sum.
func TestJoin(t *testing.T) {
	dir := t.TempDir()
	if err := os.CopyFS(filepath.Join(dir, "c"), os.DirFS(filepath.Join(root, "examples/captures"))); err != nil {
		t.Fatal(err)
	}
	list := filepath.Join(dir, "list.csv")
	shots := func(text string, state int) map[string]*result.Shot {
		t.Helper()
		if err := os.WriteFile(list, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
		var out, errs strings.Builder
		if code := run([]string{"measure", filepath.Join(dir, "c"), "--shots", list, "--setup", filepath.Join(root, "examples/bench.toml"), "--json"}, &out, &errs); code != state {
			t.Fatalf("exit status %d: %s", code, errs.String())
		}
		found := map[string]*result.Shot{}
		for _, line := range strings.Split(strings.TrimSpace(out.String()), "\n") {
			var s result.Shot
			if err := json.Unmarshal([]byte(line), &s); err != nil {
				t.Fatal(err)
			}
			found[s.Capture] = &s
		}
		return found
	}
	apart := shots("file\ni-20A\ni-60A\ni-40A\ni-60A-clipped\n", exitDone)
	both := shots("file,file_on\ni-20A.csv.gz,i-60A.csv.gz\ni-40A,\ni-60A-clipped,\n", exitDone)
	if len(both) != len(apart)-1 || both["i-60A"] != nil {
		t.Fatalf("%d shots; want one less than %d, without i-60A", len(both), len(apart))
	}
	s, value := both["i-20A"], func(s *result.Shot, key string) float64 { return s.Quantity(key).Value }
	if value(s, "e_off") != value(apart["i-20A"], "e_off") || value(s, "e_on") != value(apart["i-60A"], "e_on") || value(s, "i_on") != value(apart["i-60A"], "i_on") {
		t.Error("the edges are not those of their files")
	}
	// 20 A at the one edge and 60 A at the other are no shot.
	if m := s.Quantity("e_tot"); !math.IsNaN(m.Value) || !strings.Contains(fmt.Sprint(m.Warnings, s.Warnings), string(waveform.EdgesDiffer)) {
		t.Errorf("e_tot is %g %v", m.Value, m.Warnings)
	}
	// What ratings are held against is the worse of both files.
	for key, in := range map[string]string{"v_max": "i-60A", "i_max": "i-60A", "vgs_max": "", "vgs_min": ""} {
		a, b, got := apart["i-20A"].Quantity(key), apart["i-60A"].Quantity(key), s.Quantity(key)
		if want := math.Max(a.Value, b.Value); key != "vgs_min" && got.Value != want || key == "vgs_min" && got.Value != math.Min(a.Value, b.Value) {
			t.Errorf("%s is %g; want the worse of %g and %g", key, got.Value, a.Value, b.Value)
		}
		if !strings.Contains(got.Definition, "in "+in) || !strings.Contains(got.Definition, "both captures") {
			t.Errorf("%s is defined as %q", key, got.Definition)
		}
	}
	for _, e := range s.Events {
		if want := map[result.Edge]string{result.TurnOff: "i-20A", result.TurnOn: "i-60A"}[e.Edge]; e.Capture != want {
			t.Errorf("the %s stands on the axis of %q; want %q", e.Edge, e.Capture, want)
		}
	}
	// With one current there is a sum, without an interval; where one file is clipped
	// its largest current is not known.
	same := shots("file,file_on\ni-60A,i-60A-clipped\ni-40A,\ni-20A,\n", exitDone)["i-60A"]
	if m := same.Quantity("i_max"); !math.IsNaN(m.Value) || !strings.Contains(m.Definition, "in i-60A-clipped") {
		t.Errorf("i_max is %g, %s", m.Value, m.Definition)
	}
	same = shots("file,file_on\ni-60A-clipped,i-60A\ni-40A,\ni-20A,\n", exitDone)["i-60A-clipped"]
	if m := same.Quantity("e_tot"); m.Value != value(same, "e_off")+value(same, "e_on") || !math.IsNaN(m.Over.From) {
		t.Errorf("e_tot is %g over %v", m.Value, m.Over)
	}
	u, uOn, uOff := same.Quantity("e_tot").U, same.Quantity("e_on").U, same.Quantity("e_off").U
	if !(u > math.Abs(uOn-uOff)/2 && u < uOn+uOff) {
		t.Errorf("u of e_tot is %g beside %g and %g", u, uOn, uOff)
	}
	if len(s.Files) != 2 || len(s.SHA256) != 2 || len(s.Events) != 4 {
		t.Errorf("%d files, %d hashes, %d events", len(s.Files), len(s.SHA256), len(s.Events))
	}
	lost := shots("file,file_on\ni-20A,nowhere\ni-40A,\ni-60A,\ni-60A-clipped,\n", exitShots)
	if err := lost["i-20A"].Err; err == nil || !strings.Contains(err.Error(), `"nowhere"`) {
		t.Errorf("a turn-on that is not there: %v", err)
	}
}

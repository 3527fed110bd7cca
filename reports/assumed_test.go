package reports

import (
	"strings"
	"testing"

	"slewbook/dpt/result"
)

// What U rests on stands below the table, channels together and figures that differ
// from shot to shot once.
func TestAssumed(t *testing.T) {
	shots := []*result.Shot{
		{Capture: "a", Assumed: []string{"gain of vds known to 1.0 % (k = 1)", "gain of id known to 1.0 % (k = 1)", "zero of vds known to 1.3 V (k = 1)"}},
		{Capture: "b", Assumed: []string{"zero of vds known to 2.5 V (k = 1)"}},
	}
	got := Assumptions(shots)
	want := []Assumption{{shots[0].Assumed[0], 1, false}, {shots[0].Assumed[1], 1, false}, {shots[0].Assumed[2], 2, true}}
	for k, w := range want {
		if len(got) != len(want) || got[k] != w {
			t.Fatalf("%v, want %v", got, want)
		}
	}
	var b strings.Builder
	if err := WriteText(&b, shots, TextOptions{Width: 300}); err != nil {
		t.Fatal(err)
	}
	line := "Assumed for U, since nothing states it: gain of vds, id known to 1.0 % (k = 1); zero of vds known to 1.3 V (k = 1) (figures of the first shot).\n"
	if !strings.Contains(b.String(), line) {
		t.Errorf("no %q in\n%s", line, b.String())
	}
}

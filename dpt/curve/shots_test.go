package curve

import (
	"math"
	"testing"

	"slewbook/dpt/result"
)

// A curve has the symbol of the shots' kind of device: the recovery energy of an IGBT's
// diode is E_rec (IEC 60747-9, from memory).
func TestSymbolOfKind(t *testing.T) {
	for kind, want := range map[string]string{"mosfet": "E_rr,i10", "igbt": "E_rec,i10"} {
		s := &result.Shot{Capture: "a", Conditions: []result.Condition{{Key: "kind", Value: math.NaN(), Text: kind}},
			Quantities: []result.Measurement{{Key: "e_rr.i10", Unit: "J", Value: 1e-6, U: 1e-8, Definition: "i10"}}}
		series, err := Collect([]*result.Shot{s}, "e_rr.i10")
		if err != nil || series.Symbol != want || series.Unit != "J" {
			t.Errorf("%s: %+v, %v", kind, series, err)
		}
	}
}

// Two copies of a file are one measurement; a file that was measured at two devices under
// test is two.
func TestCopies(t *testing.T) {
	shot := func(name, sha string, e float64) *result.Shot {
		return &result.Shot{Capture: name, SHA256: []string{sha}, Quantities: []result.Measurement{{Key: "v_bus_on", Value: 600}, {Key: "i_on", Value: 50}, {Key: "e_on", Value: e, U: 1e-6}}}
	}
	shots := []*result.Shot{shot("a", "1", 1e-3), shot("b", "1", 1e-3), shot("c", "2", 1e-3), shot("d", "1", 2e-3)}
	s, err := Collect(shots, "e_on")
	if err != nil {
		t.Fatal(err)
	}
	if len(s.Points) != 3 || s.Points[1].Name != "c" || len(s.Missing) != 0 {
		t.Errorf("%d points, %v missing; expected those of a, c, d", len(s.Points), s.Missing)
	}
	if told := Copies(shots); len(told) != 1 || told[0] != "b has the same content as a: counted once" {
		t.Errorf("told %q", told)
	}
}

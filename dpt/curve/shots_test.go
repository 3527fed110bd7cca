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

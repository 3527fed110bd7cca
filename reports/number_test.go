package reports

import (
	"math"
	"strings"
	"testing"
	"unicode/utf8"

	"slewbook/dpt/result"
)

// A cell of the table is never wider than a number with a power of ten and its
// uncertainty, whatever the value.
func TestWidthOfAbsurdNumbers(t *testing.T) {
	for _, x := range []float64{1e20, -4e22, 1e300, -1e-300, 5e-20, math.MaxFloat64, math.SmallestNonzeroFloat64, 123456789.123} {
		for _, u := range []float64{math.NaN(), 1e-310, 1e-30, 1, 1e25, 1e305} {
			shot := &result.Shot{Capture: "absurd", Quantities: []result.Measurement{{Key: "v_bus_off", Unit: "V", Value: x, U: u}, {Key: "e_on", Unit: "J", Value: -x, U: u}}}
			var out strings.Builder
			if err := WriteText(&out, []*result.Shot{shot}, TextOptions{}); err != nil {
				t.Fatal(err)
			}
			for line := range strings.Lines(out.String()) {
				if n := utf8.RuneCountInString(line); n > 120 {
					t.Fatalf("%g ± %g: a line of %d characters: %.200s", x, u, n, line)
				}
			}
		}
	}
}

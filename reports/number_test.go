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

// What the digits of its uncertainty leave nothing of is 0, not 0 of a prefix that
// rounding has chosen.
func TestNumThatRoundsToNothing(t *testing.T) {
	for _, c := range []struct {
		x, u float64
		unit string
		want string
	}{
		{3.4e-21, 0.8e-6, "J", "0"},
		{-4.9e-8, 0.8e-6, "J", "0"},
		{-5.1e-8, 0.8e-6, "J", "-100 nJ"},
		{1.2e-16, 0.023, "1", "0"},
		{3.4e-21, math.NaN(), "J", "0.000003400 fJ"},
	} {
		if got := Num(c.x, c.u, c.unit); strings.Replace(got, "−", "-", 1) != c.want {
			t.Errorf("Num(%g, %g, %s) = %q; want %q", c.x, c.u, c.unit, got, c.want)
		}
	}
}

package setup

import (
	"math"
	"testing"
)

func TestGiven(t *testing.T) {
	s, err := Parse("bench.toml", []byte("[circuit]\nl_load = \"100 uH\"\n[channel.ic]\noffset = \"2 A\"\nbits = 12\n[plan]\ni = [\"5 A\"]\n"))
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		name, unit string
		x          float64
		known      bool
	}{
		{"circuit.l_load", "H", 100e-6, true},
		{"circuit.c_bus", "F", math.NaN(), true},
		{"device.v_base", "V", 0.7, true}, // by default
		{"channel.id.offset", "A", 2, true},
		{"channel.id.bits", "", 12, true},
		{"channel.vds.range", "V", math.NaN(), true},
		{"plan.i", "A", math.NaN(), true}, // a list
		{"plan.nothing", "", math.NaN(), false},
		{"channel.nobody.bits", "", math.NaN(), false},
		{"channel.bits", "", math.NaN(), false},
	} {
		x, unit, known := s.Given(c.name)
		if known != c.known || unit != c.unit || !(x == c.x || math.IsNaN(x) && math.IsNaN(c.x)) {
			t.Errorf("%s: %g %q, known %v; want %g %q, %v", c.name, x, unit, known, c.x, c.unit, c.known)
		}
	}
}

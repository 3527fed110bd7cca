package setup

import (
	"math"
	"testing"
)

// Limits follow the keys that are given. The inception of partial discharge is given
// as rms at power frequency: 2.5 kV are a peak of √2·2.5 kV = 3.536 kV (IEC 60270,
// from memory).
func TestLimits(t *testing.T) {
	s, err := Parse("bench.toml", []byte(`
[device]
kind = "igbt"
v_max = "1700 V"
vgs_min = "-20 V"
dvdt_max = "50 V/ns"
[insulation]
pd_inception = "2.5 kV"
`))
	if err != nil {
		t.Fatal(err)
	}
	got := s.Limits()
	if len(got) != 5 {
		t.Fatalf("%+v", got)
	}
	for k, want := range []struct {
		name, quantity string
		low, high      float64
	}{
		{"rated collector-emitter voltage", "v_max", math.NaN(), 1700},
		{"static gate-emitter voltage", "vgs_min", -20, math.NaN()},
		{"slope of the voltage at turn-off", "dvdt_off_max", math.NaN(), 50e9},
		{"slope of the voltage at turn-on", "dvdt_on_max", math.NaN(), 50e9},
		{"partial-discharge inception, as a peak", "v_max", math.NaN(), 3535.53},
	} {
		same := func(a, b float64) bool { return math.Abs(a-b) < 0.01 || math.IsNaN(a) && math.IsNaN(b) }
		if r := got[k]; r.Name != want.name || r.Key != want.quantity || !same(r.Min, want.low) || !same(r.Max, want.high) {
			t.Errorf("rating %d is %+v, expected %+v", k, r, want)
		}
	}
	if none := Default().Limits(); len(none) != 0 {
		t.Errorf("an empty file rates %+v", none)
	}
}

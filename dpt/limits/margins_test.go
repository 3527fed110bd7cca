package limits

import (
	"errors"
	"math"
	"testing"

	"slewbook/dpt/result"
)

// The worst of each rating is kept with its shot, either side; shots that were refused,
// or where the quantity could not be read, are counted and decide nothing.
func TestMargins(t *testing.T) {
	nan := math.NaN()
	make := func(name string, peak, low float64) *result.Shot {
		return &result.Shot{Capture: name, Quantities: []result.Measurement{{Key: "v_max", Unit: "V", Value: peak, U: 5}, {Key: "vgs_min", Unit: "V", Value: low, U: 0.1}}}
	}
	refused := make("refused", 5000, -50)
	refused.Err = errors.New("refused")
	m := NewMargins([]Rating{
		{Limit{Key: "v_max", Min: nan, Max: 1200}, "rated voltage", "device.v_max"},
		{Limit{Key: "vgs_min", Min: -8, Max: nan}, "gate", "device.vgs_min"},
		{Limit{Key: "i_max", Min: nan, Max: 100}, "rated current", "device.i_max"},
		{Limit{Key: "vgs_other_max", Min: nan, Max: 2}, "threshold", "device.vgs_th"},
	})
	for _, s := range []*result.Shot{make("a", 900, -5), make("b", 1100, -9), refused, make("d", nan, -4)} {
		m.Add(s)
	}
	rows := m.Table()
	if len(rows) != 3 {
		t.Fatalf("%d rows: %+v", len(rows), rows)
	}
	for k, want := range []struct {
		capture                 string
		value, margin, relative float64
		read                    int
	}{{"b", 1100, 100, 1. / 12, 2}, {"b", -9, -1, -1. / 8, 3}, {"", nan, nan, nan, 0}} {
		r := rows[k]
		same := func(a, b float64) bool { return math.Abs(a-b) < 1e-12 || math.IsNaN(a) && math.IsNaN(b) }
		if r.Capture != want.capture || !same(r.Value, want.value) || !same(r.Margin, want.margin) || !same(r.Relative(), want.relative) || r.Read != want.read || r.Shots != 4 {
			t.Errorf("row %d is %+v, relative %g, expected %+v", k, r, r.Relative(), want)
		}
	}
}

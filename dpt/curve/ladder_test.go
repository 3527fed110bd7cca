package curve

import (
	"math"
	"testing"

	"slewbook/dpt/result"
)

// sheet is a row of a data sheet: typical energies of one test circuit. They
// check arithmetic, not a bench.
type sheet struct {
	source       string
	v, i         float64
	tj           float64 // [K]
	on, off, ets float64 // [J]
}

// sheets are rows that were read from public data sheets (text seen).
var sheets = []sheet{
	{"STGW40H120DF2, 25 °C", 600, 40, 298.15, 1.00e-3, 1.32e-3, 2.32e-3},
	{"STGW40H120DF2, 175 °C", 600, 40, 448.15, 1.81e-3, 2.46e-3, 4.27e-3},
	{"STGW25H120DF2, 25 °C", 600, 25, 298.15, 0.6e-3, 0.7e-3, 1.3e-3},
	{"STGW25H120DF2, 175 °C", 600, 25, 448.15, 1.05e-3, 1.65e-3, 2.7e-3},
}

func (s sheet) shot() *result.Shot {
	q := func(key string, value float64) result.Measurement {
		return result.Measurement{Key: key, Value: value, U: 0.01 * value}
	}
	return &result.Shot{Capture: s.source, Conditions: []result.Condition{{Key: "tj", Value: s.tj}, {Key: "rg_on", Value: 10}},
		Quantities: []result.Measurement{q("v_bus_on", s.v), q("i_on", s.i), q("e_on", s.on), q("e_off", s.off), q("e_tot", s.on+s.off)}}
}

// TestSheetTotals: the sheets print E_on + E_off as E_ts, exact sums; the total
// stands at the conditions of the turn-on.
func TestSheetTotals(t *testing.T) {
	for _, s := range sheets {
		total, err := Collect([]*result.Shot{s.shot()}, "e_tot")
		if err != nil {
			t.Fatal(err)
		}
		if p := total.Points[0]; math.Abs(p.Y-s.ets) > 1e-12 || p.V != s.v || p.I != s.i || p.Tj != s.tj || p.Rg != 10 {
			t.Errorf("%s: %+v, printed total %g", s.source, p, s.ets)
		}
	}
}

// TestSheetTemperature: two rows of a sheet fix the temperature coefficient of
// its total: (4.27/2.32 - 1)/150 K and (2.7/1.3 - 1)/150 K about 25 °C, and the
// straight line through them returns both rows.
func TestSheetTemperature(t *testing.T) {
	for k := 0; k < len(sheets); k += 2 {
		cold, hot := sheets[k], sheets[k+1]
		total, err := Collect([]*result.Shot{cold.shot(), hot.shot()}, "e_tot")
		if err != nil {
			t.Fatal(err)
		}
		m := Surface{Ref: At{Tj: cold.tj}, Over: []Variable{Temperature}}
		f, err := Least(m, total.Points, Defaults())
		if err != nil {
			t.Fatal(err)
		}
		if want := (hot.ets/cold.ets - 1) / 150; math.Abs(f.P[1]/want-1) > 1e-9 || math.Abs(f.P[0]/cold.ets-1) > 1e-9 {
			t.Errorf("%s: E_ref %g, kt %g, expected %g and %g", cold.source, f.P[0], f.P[1], cold.ets, want)
		}
		if e := f.Predict(At{Tj: hot.tj}); math.Abs(e.Value/hot.ets-1) > 1e-9 || !e.Inside {
			t.Errorf("%s: %+v, printed %g", hot.source, e, hot.ets)
		}
		if f.Predict(At{Tj: 473.15}).Inside {
			t.Error("200 °C lies within the data of 25 and 175 °C")
		}
	}
}

// TestSheetPower: two rows do not
// carry a power law of three parameters; the error says
// so rather than inventing an exponent.
func TestSheetPower(t *testing.T) {
	total, err := Collect([]*result.Shot{sheets[0].shot(), sheets[2].shot()}, "e_tot")
	if err != nil {
		t.Fatal(err)
	}
	m := Surface{Power: true, Ref: At{I: 40, V: 600}, Over: []Variable{Current, Bus}}
	if _, err := Least(m, total.Points, Defaults()); err == nil {
		t.Error("two rows fixed three parameters")
	}
	m.Over = m.Over[:1]
	f, err := Least(m, total.Points, Defaults())
	if err != nil {
		t.Fatal(err)
	}
	// Between two different parts this exponent is arithmetic only.
	if want := math.Log(2.32/1.3) / math.Log(40.0/25); math.Abs(f.P[1]/want-1) > 1e-9 {
		t.Errorf("ki = %g, expected %g", f.P[1], want)
	}
}

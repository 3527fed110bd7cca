package campaign

import (
	"errors"
	"maps"
	"math"
	"slices"
	"strings"
	"testing"

	"slewbook/dpt/result"
	"slewbook/waveform"
)

// shotOf is a shot under those conditions, in the order of fields.
func shotOf(t *testing.T, values map[string]float64) *result.Shot {
	t.Helper()
	s := &result.Shot{Capture: "run/a"}
	for _, f := range fields {
		if x, ok := values[f.name]; ok {
			s.Conditions = append(s.Conditions, result.Condition{Key: f.name, Value: x, Unit: f.unit})
		}
	}
	return s
}

// Letter codes of resistors are those of IEC 60062 (from memory); the rest is
// common practice, no source.
func TestNumbersInNames(t *testing.T) {
	for _, c := range []struct {
		text, field string
		want        float64
	}{
		{"4R7", "rg_on", 4.7}, {"1k2", "rg_on", 1200}, {"10R", "rg_on", 10}, {"0R5", "rg_off", 0.5}, {"2E2", "rg_on", 2.2}, {"15ohm", "rg_on", 15}, {"5mohm", "rg_on", 0.005},
		{"650V", "v_bus", 650}, {"1k2V", "v_bus", math.NaN()}, {"1.2kV", "v_bus", 1200}, {"0,8kV", "v_bus", 800}, {"12V5", "v_bus", 12.5}, {"1k2", "v_bus", 1200},
		{"m40C", "tj", 233.15}, {"p25C", "tj", 298.15}, {"-40C", "tj", 233.15}, {"175°C", "tj", 448.15}, {"300K", "tj", 300},
		{"60A", "i_load", 60}, {"060A", "i_load", 60}, {"1kA", "i_load", 1000}, {"100", "i_load", math.NaN()}, {"60V", "i_load", math.NaN()},
	} {
		p, err := ParsePattern("x_{" + c.field + "}")
		if err != nil {
			t.Fatal(err)
		}
		got, ok, err := p.Read("any/x_" + c.text)
		switch {
		case math.IsNaN(c.want) && ok && err == nil:
			t.Errorf("%s as %s: %v; want an error or no match", c.text, c.field, got)
		case math.IsNaN(c.want):
		case err != nil || !ok:
			t.Errorf("%s as %s: %v, %v; want %g", c.text, c.field, ok, err, c.want)
		case math.Abs(got[0].Value-c.want) > 1e-9:
			t.Errorf("%s as %s: %g; want %g", c.text, c.field, got[0].Value, c.want)
		}
	}
}

func TestPattern(t *testing.T) {
	p, err := ParsePattern("{device}/T{tj (°C)}/{v_bus}_{i_load (A)}_{}_n{repeat}")
	if err != nil {
		t.Fatal(err)
	}
	got, ok, err := p.Read("lab/part 3/T125/800V_60_what-ever_n02#4")
	if err != nil || !ok {
		t.Fatal(ok, err)
	}
	var texts []string
	for _, c := range got {
		texts = append(texts, c.Key+"="+c.Text)
	}
	if want := "device=part 3 tj=125 °C v_bus=800 V i_load=60 A repeat=2"; strings.Join(texts, " ") != want {
		t.Errorf("%s; want %s", strings.Join(texts, " "), want)
	}
	if _, ok, err := p.Read("T125/800V_60_x_n1"); ok || err != nil {
		t.Error("a name of another form was taken")
	}
	for text, want := range map[string]string{
		"{v_bus}{i_load}": "side by side", "plain": "names no condition", "{vbus}": "is no condition", "{v_bus": "not closed",
		"{v_bus (A)}": "does not fit v_bus", "{tj}_{tj}": "twice",
	} {
		if _, err := ParsePattern(text); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v; want an error with %q", text, err, want)
		}
	}
}

// The set-up holds for all, the name counts over it, the list over both; what
// contradicts is told.
func TestPrecedence(t *testing.T) {
	l, err := parseList("l.csv", []byte("file,rg_on (ohm),tj (°C)\nx_4R7,10,\n"))
	if err != nil {
		t.Fatal(err)
	}
	p, err := ParsePattern("x_{rg_on}")
	if err != nil {
		t.Fatal(err)
	}
	base := []result.Condition{{Key: "tj", Value: 300, Unit: "K"}, {Key: "rg_on", Value: 1, Unit: "ohm"}}
	for _, c := range []struct {
		plan    Plan
		capture string
		rg      float64
		codes   []waveform.Code
	}{
		{Plan{}, "x_4R7", 1, nil},
		{Plan{Pattern: p}, "x_4R7", 4.7, nil},
		{Plan{Pattern: p}, "y", 1, []waveform.Code{waveform.ConditionsUnknown}},
		{Plan{List: l}, "x_4R7", 10, nil},
		{Plan{List: l}, "y", 1, []waveform.Code{waveform.ConditionsUnknown}},
		{Plan{List: l, Pattern: p}, "x_4R7", 10, []waveform.Code{waveform.ConditionsConflict}},
		{Plan{List: l, Pattern: p}, "x_2R2", 2.2, nil},
	} {
		got, warnings, err := c.plan.Conditions(base, c.capture)
		if err != nil {
			t.Fatal(err)
		}
		var codes []waveform.Code
		for _, w := range warnings {
			codes = append(codes, w.Code)
		}
		if got[1].Value != c.rg || got[0].Value != 300 || !slices.Equal(codes, c.codes) {
			t.Errorf("%s: rg_on %g, tj %g, %v; want %g, 300, %v", c.capture, got[1].Value, got[0].Value, codes, c.rg, c.codes)
		}
	}
	if base[1].Value != 1 {
		t.Error("the set-up's record was changed")
	}
}

func TestCheck(t *testing.T) {
	s := shotOf(t, map[string]float64{"v_bus": 800, "i_load": 60})
	s.Quantities = []result.Measurement{{Key: "v_bus_off", Value: 803}, {Key: "i_off", Value: 59}}
	if Check(s); len(s.Warnings) > 0 {
		t.Errorf("a shot on plan got %v", s.Warnings)
	}
	s.Quantities[1].Value = 70
	if Check(s); len(s.Warnings) != 1 || s.Warnings[0].Code != waveform.OffPlan || !strings.Contains(s.Warnings[0].Text, "+16.7 %") {
		t.Errorf("70 A for 60 A got %v", s.Warnings)
	}
}

func TestMatrix(t *testing.T) {
	l, err := parseList("l.csv", []byte("file,v_bus (V),i_load (A),tj (°C)\na,800,60,25\nb,800,60,25\nc,800,90,25\nd,400,60,125\n"))
	if err != nil {
		t.Fatal(err)
	}
	m, err := NewMatrix(Plan{List: l}, nil)
	if err != nil {
		t.Fatal(err)
	}
	for name, broken := range map[string]error{"a": nil, "b": errors.New("torn")} {
		e := l.Find(name)
		m.Add(&result.Shot{Capture: name, Conditions: e.Conditions, Err: broken, Quantities: []result.Measurement{{Key: "v_bus_off", Value: 790}, {Key: "i_off", Value: 61}}})
	}
	m.Add(&result.Shot{Capture: "stray"})
	table := m.Table()
	got := map[[2]float64]string{}
	for _, c := range table.Cells {
		got[[2]float64{c.PlanV, c.PlanI}] = strings.Join(append(append([]string{}, c.Refused...), c.Missing...), " ")
	}
	if want := map[[2]float64]string{{800, 60}: "b", {800, 90}: "c", {400, 60}: "d"}; !maps.Equal(got, want) || table.Outside != 1 {
		t.Errorf("refused and missing: %v, outside %d; want %v, 1", got, table.Outside, want)
	}
	first := table.Cells[0] // 25 °C, 800 V, 60 A
	if first.Planned != 2 || first.Measured != 1 || first.V.Value() != 790 || first.I.Value() != 61 {
		t.Errorf("first cell: %+v", first)
	}
}

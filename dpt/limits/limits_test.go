package limits

import (
	"errors"
	"math"
	"slices"
	"strings"
	"testing"

	"slewbook/dpt/result"
)

const text = `
guard = 2
[limit.e_on]
max = "600 uJ"
definition = "i10-v2"
[limit.v_peak]
max = "1.08 kV"
min = "100 V"
`

func shot(name string, on, u, peak float64) *result.Shot {
	return &result.Shot{Capture: name, Conditions: []result.Condition{{Key: "device", Text: "invented 1", Value: math.NaN()}}, Quantities: []result.Measurement{
		{Key: "e_on", Unit: "J", Value: on, U: u, Definition: "i10-v2"},
		{Key: "v_peak", Unit: "V", Value: peak, U: 1},
	}}
}

func TestJudge(t *testing.T) {
	f, err := Parse("limits.toml", []byte(text))
	if err != nil {
		t.Fatal(err)
	}
	nan := math.NaN()
	other := shot("other definition", 500e-6, 1e-6, 900)
	other.Quantities[0].Definition = "i10-v10"
	for _, c := range []struct {
		s    *result.Shot
		want Verdict
		why  string
	}{
		{shot("clear", 500e-6, 10e-6, 900), Pass, "within the limits"},
		{shot("just passes", 579.9e-6, 10e-6, 900), Pass, "within the limits"},
		{shot("in the guard band below", 590e-6, 10e-6, 900), CannotTell, "within 2 u"},
		{shot("in the guard band above", 610e-6, 10e-6, 900), CannotTell, "within 2 u"},
		{shot("over", 621e-6, 10e-6, 900), Fail, "beyond"},
		{shot("peak low", 500e-6, 10e-6, 90), Fail, "within the limits"},
		{shot("no number", nan, 10e-6, 900), CannotTell, "not measured"},
		{shot("no u", 500e-6, nan, 900), CannotTell, "not known"},
		{shot("a fail outweighs", nan, nan, 1100), Fail, "not measured"},
		{other, CannotTell, `"i10-v10"`},
	} {
		got := f.Judge(slices.Values([]*result.Shot{c.s}))[0]
		on := got.Judgements[1] // behind the peak, as in the tables
		if got.Verdict != c.want || !strings.Contains(on.Why, c.why) {
			t.Errorf("%s: %s (%s), expected %s (%s)", c.s.Capture, got.Verdict, on.Why, c.want, c.why)
		}
	}
}

// TestLastBefore: the good shot before a device's first failure is marked, and
// no other.
func TestLastBefore(t *testing.T) {
	f, err := Parse("limits.toml", []byte(text))
	if err != nil {
		t.Fatal(err)
	}
	broken := &result.Shot{Capture: "4", Conditions: shot("", 0, 0, 0).Conditions, Err: errors.New("no pulse")}
	other := shot("3b", 700e-6, 1e-6, 900)
	other.Conditions = []result.Condition{{Key: "device", Text: "invented 2"}}
	shots := []*result.Shot{shot("1", 500e-6, 1e-6, 900), shot("2", 500e-6, 1e-6, 900), shot("3", 595e-6, 10e-6, 900), other, broken, shot("5", 700e-6, 1e-6, 900)}
	var marked []string
	for _, s := range f.Judge(slices.Values(shots)) {
		if s.Before != "" {
			marked = append(marked, s.Capture+" before "+s.Before)
		}
	}
	if got := strings.Join(marked, ", "); got != "3 before 4" {
		t.Errorf("marked: %s", got)
	}
}

func TestParseRefuses(t *testing.T) {
	for in, want := range map[string]string{
		"":                                       "no limit",
		"guard = -1\n[limit.e_on]\nmax=\"1 J\"":  "expected 0 to 10",
		"[limit.e_on]":                           "neither min nor max",
		"[limit.e_onn]\nmax=\"1 J\"":             "no such quantity",
		"[limit.e_on]\nmax=\"1 V\"":              "[limit.e_on] max",
		"[limit.e_on]\nmax=1":                    "in quotes",
		"[limit.e_on]\nmaximum=\"1 J\"":          "not known",
		"[limit.e_on]\nmax=\"1 J\"\nmin=\"2 J\"": "above",
	} {
		if _, err := Parse("f.toml", []byte(in)); err == nil || !strings.Contains(err.Error(), want) || !strings.HasPrefix(err.Error(), "f.toml") {
			t.Errorf("%q: %v; expected ... %s", in, err, want)
		}
	}
}

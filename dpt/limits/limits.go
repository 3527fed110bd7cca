// Package limits judges the quantities of shots against a limits file: pass,
// fail, or cannot tell, with the measurement's own uncertainty as guard band.
package limits

import (
	"errors"
	"fmt"
	"iter"
	"math"
	"slices"
	"strings"

	"github.com/pelletier/go-toml/v2"

	"slewbook/dpt/result"
	"slewbook/waveform/unit"
)

// Limit bounds one quantity. NaN is no bound.
type Limit struct {
	Key        string
	Min, Max   float64 // SI base unit of the quantity
	Definition string  // the only one it holds for, "" for any
}

// File is a limits file.
type File struct {
	// Guard is the width of the guard band in standard uncertainties: a value
	// passes or fails if it does so by at least Guard times its u. With 2, an
	// item on the limit is passed with a probability below 2.5 % (the decision
	// rule of JCGM 106:2012 with one-sided guarded acceptance, from memory).
	Guard  float64
	Limits []Limit // in the order of result.Columns
}

// Parse reads the text of a limits file of that name:
//
//	guard = 2
//	[limit.e_on]
//	max = "600 uJ"
//	definition = "i10-v2"   # optional
func Parse(name string, text []byte) (*File, error) {
	var doc struct {
		Guard *float64 `toml:"guard"`
		Limit map[string]struct {
			Min        *string `toml:"min"`
			Max        *string `toml:"max"`
			Definition string  `toml:"definition"`
		} `toml:"limit"`
	}
	dec := toml.NewDecoder(strings.NewReader(string(text))).DisallowUnknownFields()
	if err := dec.Decode(&doc); err != nil {
		return nil, explain(name, err)
	}
	out := &File{Guard: 2}
	if doc.Guard != nil {
		out.Guard = *doc.Guard
	}
	if !(out.Guard >= 0 && out.Guard <= 10) {
		return nil, fmt.Errorf("%s: guard = %g; expected 0 to 10 standard uncertainties", name, out.Guard)
	}
	for key, entry := range doc.Limit {
		c, ok := result.FindColumn(key)
		if !ok {
			return nil, fmt.Errorf("%s: [limit.%s]: there is no such quantity; expected a key such as e_on or v_peak (README, Quantities)", name, key)
		}
		l := Limit{Key: key, Min: math.NaN(), Max: math.NaN(), Definition: entry.Definition}
		for _, bound := range []struct {
			text *string
			to   *float64
			word string
		}{{entry.Min, &l.Min, "min"}, {entry.Max, &l.Max, "max"}} {
			if bound.text == nil {
				continue
			}
			x, err := unit.Parse(*bound.text, c.Unit)
			if err != nil {
				return nil, fmt.Errorf("%s: [limit.%s] %s: %w", name, key, bound.word, err)
			}
			*bound.to = x
		}
		if math.IsNaN(l.Min) && math.IsNaN(l.Max) {
			return nil, fmt.Errorf("%s: [limit.%s] has neither min nor max; expected one of them at least", name, key)
		}
		if l.Min > l.Max {
			return nil, fmt.Errorf("%s: [limit.%s]: min is above max", name, key)
		}
		out.Limits = append(out.Limits, l)
	}
	if len(out.Limits) == 0 {
		return nil, fmt.Errorf("%s holds no limit; expected tables such as [limit.e_on] with min or max", name)
	}
	slices.SortFunc(out.Limits, func(a, b Limit) int {
		return order(a.Key) - order(b.Key) + strings.Compare(a.Key, b.Key)
	})
	return out, nil
}

// order is the place of a key among the columns, spread so that a comparison of
// names only decides within one.
func order(key string) int {
	c, _ := result.FindColumn(key)
	return 10 * slices.IndexFunc(result.Columns, func(o result.Column) bool { return o.Key == c.Key })
}

func explain(name string, err error) error {
	var strict *toml.StrictMissingError
	if errors.As(err, &strict) {
		return fmt.Errorf("%s: a key that is not known; expected guard and tables [limit.KEY] with min, max, definition\n%s", name, strict.String())
	}
	var decode *toml.DecodeError
	if errors.As(err, &decode) {
		row, _ := decode.Position()
		return fmt.Errorf("%s:%d: %w; bounds are written in quotes with their unit, such as max = \"600 uJ\"\n%s", name, row, err, decode.String())
	}
	return fmt.Errorf("%s: %w", name, err)
}

// Verdict is what is said of a quantity or a shot.
type Verdict string

// The three verdicts.
const (
	Pass       Verdict = "pass"
	Fail       Verdict = "fail"
	CannotTell Verdict = "cannot tell"
)

// Judgement is the verdict on one quantity of one shot.
type Judgement struct {
	Limit
	Unit    string
	Value   float64 // NaN if it was not measured
	U       float64 // NaN if it is not known
	Verdict Verdict
	Why     string // a sentence
}

// Shot is the verdict on one shot: the worst of its quantities.
type Shot struct {
	Capture    string
	Device     string
	Verdict    Verdict
	Judgements []Judgement
	Error      string // why it was not measured, "" if it was
	// Before names the shot of the same device that failed or could not be
	// measured next: this one is the last before the failure, to be kept.
	Before string
}

// Judge judges every shot, in their order; it keeps none of them.
func (f *File) Judge(shots iter.Seq[*result.Shot]) []Shot {
	var out []Shot
	for s := range shots {
		j := Shot{Capture: s.Capture, Device: device(s), Verdict: Pass}
		if s.Err != nil {
			j.Verdict, j.Error = CannotTell, s.Err.Error()
		} else {
			for _, l := range f.Limits {
				one := f.judge(s, l)
				j.Judgements = append(j.Judgements, one)
				j.Verdict = worse(j.Verdict, one.Verdict)
			}
		}
		out = append(out, j)
	}
	markLast(out)
	return out
}

func device(s *result.Shot) string {
	if c := s.Condition("device"); c != nil {
		return c.Text
	}
	return ""
}

func worse(a, b Verdict) Verdict {
	for _, v := range []Verdict{Fail, CannotTell} {
		if a == v || b == v {
			return v
		}
	}
	return Pass
}

// markLast marks, for each device, the good shot before the first that is not.
func markLast(shots []Shot) {
	last, done := map[string]int{}, map[string]bool{}
	for k, s := range shots {
		bad := s.Verdict == Fail || s.Error != ""
		if at, ok := last[s.Device]; bad && ok && !done[s.Device] {
			shots[at].Before = s.Capture
		}
		done[s.Device] = done[s.Device] || bad
		if !bad {
			last[s.Device] = k
		}
	}
}

func (f *File) judge(s *result.Shot, l Limit) Judgement {
	j := Judgement{Limit: l, Value: math.NaN(), U: math.NaN(), Verdict: CannotTell}
	c, _ := result.FindColumn(l.Key)
	j.Unit = c.Unit
	m := s.Quantity(l.Key)
	switch {
	case m == nil || math.IsNaN(m.Value):
		j.Why = "not measured"
		return j
	case l.Definition != "" && m.Definition != l.Definition:
		j.Value, j.U = m.Value, m.U
		j.Why = fmt.Sprintf("measured by %q, the limit is for %q", m.Definition, l.Definition)
		return j
	}
	j.Value, j.U = m.Value, m.U
	if f.Guard > 0 && math.IsNaN(m.U) {
		j.Why = "its uncertainty is not known"
		return j
	}
	guard := 0.0
	if f.Guard > 0 {
		guard = f.Guard * m.U
	}
	switch {
	case m.Value-guard > l.Max, m.Value+guard < l.Min:
		j.Verdict, j.Why = Fail, fmt.Sprintf("beyond the limit by more than %g u", f.Guard)
	case m.Value+guard > l.Max, m.Value-guard < l.Min:
		j.Why = fmt.Sprintf("within %g u of the limit", f.Guard)
	default:
		j.Verdict, j.Why = Pass, fmt.Sprintf("within the limits by at least %g u", f.Guard)
	}
	return j
}

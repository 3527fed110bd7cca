package curve

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"slewbook/dpt/result"
	"slewbook/waveform/unit"
)

// Series is one quantity over the shots that have it.
type Series struct {
	Key        string
	Symbol     string // "_" before a subscript
	Unit       string
	Definition string // the same for all
	Points     []Point
	Flags      map[string]string // codes of a point's warnings, by capture
	Missing    []string          // captures that have no value, or none of its conditions
}

// copies tells of shots which earlier one they are a copy of: files of the same bytes,
// measured alike, are one measurement under two names and no repeat.
func copies(shots []*result.Shot) map[*result.Shot]string {
	out, first := map[*result.Shot]string{}, map[string][]*result.Shot{}
	for _, s := range shots {
		if s.Err != nil || len(s.SHA256) == 0 {
			continue
		}
		key := strings.Join(s.SHA256, " ")
		if k := slices.IndexFunc(first[key], func(f *result.Shot) bool { return slices.EqualFunc(f.Quantities, s.Quantities, sameValue) }); k >= 0 {
			out[s] = first[key][k].Capture
			continue
		}
		first[key] = append(first[key], s)
	}
	return out
}

// sameValue tells copies from two devices under test of one file, which have unlike values.
func sameValue(a, b result.Measurement) bool {
	return a.Key == b.Key && (a.Value == b.Value || math.IsNaN(a.Value) && math.IsNaN(b.Value))
}

// Copies says which captures hold the same content as another: they count once.
func Copies(shots []*result.Shot) []string {
	var out []string
	of := copies(shots)
	for _, s := range shots {
		if name, is := of[s]; is {
			out = append(out, s.Capture+" has the same content as "+name+": counted once")
		}
	}
	return out
}

// Collect returns the series of a key, copies of a capture left out. Shots that were
// measured by unlike definitions are not mixed: that is an error.
func Collect(shots []*result.Shot, key string) (*Series, error) {
	s := &Series{Key: key, Flags: map[string]string{}}
	igbt := slices.ContainsFunc(shots, (*result.Shot).IGBT)
	c, _ := result.FindColumn(key)
	s.Symbol, s.Unit = result.Symbol(key, igbt), c.Unit
	first, copied := "", copies(shots)
	for _, shot := range shots {
		if _, is := copied[shot]; is || shot.Err != nil {
			continue
		}
		m := shot.Quantity(key)
		if m == nil || math.IsNaN(m.Value) {
			s.Missing = append(s.Missing, shot.Capture)
			continue
		}
		if s.Unit == "" {
			s.Unit = m.Unit
		}
		switch {
		case len(s.Points) == 0:
			s.Definition, first = m.Definition, shot.Capture
		case s.Definition != m.Definition:
			return nil, fmt.Errorf("%s of %s is by %q, that of %s by %q: unlike definitions are not put on one curve; measure both with the same", key, first, s.Definition, shot.Capture, m.Definition)
		}
		s.Points = append(s.Points, Point{At: place(shot, key), Name: shot.Capture, Y: m.Value, U: m.U, PlanI: orElse(condition(shot, "i_load"), 0), PlanV: orElse(condition(shot, "v_bus"), 0),
			Bench: shot.Bench, Budget: m.Budget})
		s.Flags[shot.Capture] = flags(m)
	}
	return s, nil
}

// split gives each point the part that it is of: the value of a condition.
func (s *Series) split(shots []*result.Shot, by string) {
	parts := map[string]string{}
	for _, shot := range shots {
		parts[shot.Capture] = cmp.Or(conditionShown(shot, by), by+" not stated")
	}
	for k := range s.Points {
		s.Points[k].Part = parts[s.Points[k].Name]
	}
}

// parts lists the parts of a series, one "" where it is not split.
func (s *Series) parts() []string {
	var out []string
	for _, p := range s.Points {
		if !slices.Contains(out, p.Part) {
			out = append(out, p.Part)
		}
	}
	return out
}

// of returns one part of a series.
func (s *Series) of(part string) *Series {
	out := *s
	out.Points = slices.DeleteFunc(slices.Clone(s.Points), func(p Point) bool { return p.Part != part })
	return &out
}

// shots returns those that the points are of.
func (s *Series) shots(all []*result.Shot) []*result.Shot {
	names := map[string]bool{}
	for _, p := range s.Points {
		names[p.Name] = true
	}
	return slices.DeleteFunc(slices.Clone(all), func(shot *result.Shot) bool { return !names[shot.Capture] })
}

// Keys lists the quantities that at least one shot has a value of; the named
// windows only where asked.
func Keys(shots []*result.Shot) []string {
	has := map[string]bool{}
	var extra []string
	for _, s := range shots {
		for _, m := range s.Quantities {
			if s.Err == nil && !math.IsNaN(m.Value) && !has[m.Key] {
				has[m.Key] = true
				if !slices.ContainsFunc(result.Columns, func(c result.Column) bool { return c.Key == m.Key }) && !strings.Contains(m.Key, ".") {
					extra = append(extra, m.Key)
				}
			}
		}
	}
	var keys []string
	for _, c := range result.Columns {
		if has[c.Key] {
			keys = append(keys, c.Key)
		}
	}
	return append(keys, extra...)
}

func flags(m *result.Measurement) string {
	var codes []string
	for _, w := range m.Warnings {
		if code := string(w.Code); !slices.Contains(codes, code) {
			codes = append(codes, code)
		}
	}
	return strings.Join(codes, " ")
}

// place returns the conditions of a quantity: bus and current as measured at
// its edge (for what belongs to none at turn-on; where the shot has none, at the other edge), temperature and gate resistor as stated.
func place(s *result.Shot, key string) At {
	edge := result.TurnOn
	if c, ok := result.FindColumn(key); ok && c.Edge != "" {
		edge = c.Edge
	}
	v, i, rg := "v_bus_on", "i_on", "rg_on"
	v2, i2, rg2 := "v_bus_off", "i_off", "rg_off"
	if edge == result.TurnOff {
		v, i, rg, v2, i2, rg2 = v2, i2, rg2, v, i, rg
	}
	return At{
		I:  orElse(value(s, i), value(s, i2)),
		V:  orElse(value(s, v), value(s, v2)),
		Tj: orElse(condition(s, "tj"), condition(s, "tc")),
		Rg: orElse(condition(s, rg), condition(s, rg2)),
	}
}

func orElse(a, b float64) float64 {
	if math.IsNaN(a) {
		return b
	}
	return a
}

func value(s *result.Shot, key string) float64 {
	if m := s.Quantity(key); m != nil {
		return m.Value
	}
	return math.NaN()
}

// given returns a condition, or the note of that name; nil if there is none.
func given(s *result.Shot, key string) *result.Condition {
	if c := s.Condition(key); c != nil {
		return c
	}
	return s.Condition(notePrefix + key)
}

// notePrefix leads the keys of what a set-up or a shot list notes in words of its own.
const notePrefix = "note."

func condition(s *result.Shot, key string) float64 {
	if c := given(s, key); c != nil {
		return c.Value
	}
	return math.NaN()
}

// conditionShown is a condition as people read it, "" if it is not stated.
func conditionShown(s *result.Shot, key string) string {
	if c := given(s, key); c != nil && c.Unit != "" && c.Value-c.Value == 0 {
		return unit.Format(c.Value, c.Unit, 3)
	}
	return conditionText(s, key)
}

func conditionText(s *result.Shot, key string) string {
	c := given(s, key)
	switch {
	case c == nil:
		return ""
	case c.Text != "" || math.IsNaN(c.Value):
		return c.Text
	}
	return fmt.Sprint(c.Value)
}

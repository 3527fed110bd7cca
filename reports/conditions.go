package reports

import (
	"math"

	"slewbook/dpt/result"
)

// conditionColumns are the columns of the tables that hold the conditions, in
// the order in which shots brought them.
type conditionColumns struct {
	headers []string
	seen    map[string]bool
	words   map[string]bool // those that hold words in some shot
}

// see takes note of the columns that a shot needs.
func (t *conditionColumns) see(s *result.Shot) {
	if t.seen == nil {
		t.seen, t.words = map[string]bool{}, map[string]bool{}
	}
	for _, c := range s.Conditions {
		h := conditionHeader(c)
		if !t.seen[h] {
			t.seen[h] = true
			t.headers = append(t.headers, h)
		}
		if math.IsNaN(c.Value) && c.Text != "" {
			t.words[h] = true
		}
	}
}

// values returns the conditions of a shot by their headers.
func (t *conditionColumns) values(s *result.Shot) map[string]result.Condition {
	out := map[string]result.Condition{}
	for _, c := range s.Conditions {
		out[conditionHeader(c)] = c
	}
	return out
}

// conditionHeader keeps conditions apart from quantities of the same name: a
// planned l_load is not a measured one.
func conditionHeader(c result.Condition) string {
	if c.Unit == "" {
		return csvText("condition " + c.Key)
	}
	return csvText("condition " + c.Key + " [" + c.Unit + "]")
}

func conditionValue(c result.Condition) string {
	if math.IsNaN(c.Value) {
		return csvText(c.Text)
	}
	return csvFloat(c.Value)
}

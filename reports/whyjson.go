package reports

import (
	"io"

	"slewbook/dpt/result"
)

// WriteWhyJSON writes what WriteWhy tells as one line of JSON, in SI base units. The
// quantity itself, those under other definitions and the trials are as in the JSON of
// a shot; inputs are in the order of their part in u.
func WriteWhyJSON(w io.Writer, s *result.Shot, key string) error {
	m, err := quantity(s, key)
	if err != nil {
		return err
	}
	c, _ := result.FindColumn(key)
	edges := []any{}
	for _, e := range s.Edges {
		if e.Edge == c.Edge {
			marks := each(e.Marks, func(k result.Mark) any {
				return Object("role", string(k.Role), "label", k.Label, "t", k.T, "value", k.Y, "recorded", recorded(s, k), "unit", k.Role.Unit())
			})
			edges = append(edges, Object("edge", string(e.Edge), "pulse", e.Pulse, "v_bus", e.Bus, "i_load", e.Load, "marks", marks))
		}
	}
	corrections := each(s.Corrections, func(c result.Correction) any {
		return Object("channel", string(c.Channel), "kind", c.Kind, "value", c.Value, "unit", c.Unit, "e_on", c.EOn, "e_off", c.EOff, "text", c.Text)
	})
	running := each(runningIntegral(s, m), func(x runStep) any { return Object("t", x.t, "v", x.v, "i", x.i, "e", x.e) })
	others := result.Object{}
	for _, x := range kin(s, m) {
		others = append(others, result.Member{Key: x.Key, Value: x})
	}
	inputs := each(m.Budget, func(b result.Contribution) any {
		return Object("input", b.Source, "u", b.U, "unit", b.Unit, "effect", b.Effect, "part", b.Effect*b.Effect/(m.U*m.U), "from", b.Basis)
	})
	shrink := ""
	if len(m.Budget) > 0 {
		shrink = remedy(m.Budget[0])
	}
	return WriteObject(w, "capture", s.Capture, "key", key, "help", c.Help, "quantity", *m, "edges", edges, "corrections", corrections,
		"running", running, "others", others, "inputs", inputs, "shrink", shrink, "error", nil)
}

package reports

import (
	"strings"

	"slewbook/dpt/result"
)

// wideTable knows the columns of shots.csv, which depend on the conditions and
// the energy windows of the shots it has seen. The columns of result.Columns
// are always there, so that a script finds them in every run, but for those that
// need data or a channel which the run does not have.
type wideTable struct {
	conditions conditionColumns
	extra      map[string][]string // keys beyond result.Columns by stem, in the order seen
	unit       map[string]string   // of all keys
}

// see takes note of the columns that a shot needs.
func (t *wideTable) see(s *result.Shot) {
	if t.unit == nil {
		t.extra, t.unit = map[string][]string{}, map[string]string{}
		for _, c := range result.Columns {
			if !c.Given {
				t.unit[c.Key] = c.Unit
			}
		}
	}
	t.conditions.see(s)
	for _, m := range s.Quantities {
		if _, ok := t.unit[m.Key]; !ok {
			t.unit[m.Key] = m.Unit
			if column, _ := result.FindColumn(m.Key); column.Key != m.Key {
				t.extra[column.Key] = append(t.extra[column.Key], m.Key)
			}
		}
	}
}

// keys lists the quantities in the order of result.Columns, each followed by
// its named windows; keys that no column knows come last.
func (t *wideTable) keys() []string {
	var keys []string
	for _, c := range result.Columns {
		if _, ok := t.unit[c.Key]; ok {
			keys = append(keys, c.Key)
		}
		keys = append(keys, t.extra[c.Key]...)
	}
	return append(keys, t.extra[""]...)
}

func (t *wideTable) header() []string {
	row := append([]string{"capture", "files"}, t.conditions.headers...)
	for _, key := range t.keys() {
		unit := t.unit[key]
		row = append(row, key+" ["+unit+"]", "u("+key+") ["+unit+"]")
		if unit == "J" {
			row = append(row, key+" window")
		}
	}
	return append(row, "warnings", "error", "sha256", "settings", "version")
}

func (t *wideTable) row(s *result.Shot) []string {
	conditions := t.conditions.values(s)
	row := []string{csvText(s.Capture), csvText(strings.Join(s.Files, "; "))}
	for _, h := range t.conditions.headers {
		value := ""
		if c, ok := conditions[h]; ok {
			value = conditionValue(c)
		}
		row = append(row, value)
	}
	for _, key := range t.keys() {
		var value, u, window string
		if m := s.Quantity(key); m != nil {
			value, u, window = csvFloat(m.Value), csvFloat(m.U), m.Definition
		}
		row = append(row, value, u)
		if t.unit[key] == "J" {
			row = append(row, window)
		}
	}
	return append(row, shotCodes(s), csvError(s.Err), strings.Join(s.SHA256, " "), s.Settings, s.Version)
}

// shotCodes lists the codes of the shot, then those of its quantities as
// "key:code".
func shotCodes(s *result.Shot) string {
	out := strings.Fields(codes(s.Warnings))
	for _, m := range s.Quantities {
		if m.Key == "delay_vgs" || m.Key == "v_ds_on" || m.Key == "r_ds_on" {
			continue // not observable in any shot, or by any plain probe, which is no fault of this one
		}
		for _, code := range strings.Fields(codes(m.Warnings)) {
			out = append(out, m.Key+":"+code)
		}
	}
	return strings.Join(out, " ")
}

// Package campaign knows under what conditions each shot of a campaign was to
// be taken: from a shot list, from a pattern of file names, from the set-up; and
// holds the plan against what was measured.
package campaign

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"

	"slewbook/dpt/result"
	"slewbook/waveform/unit"
)

// field is a condition that a shot list or a file name can give.
type field struct {
	name string // in the header, in braces of a pattern, and in the record of conditions
	unit string // SI base unit; "" for words, "count" for a whole number
}

const count = "count"

// fields lists the conditions in the order of a drafted list.
var fields = []field{
	{"v_bus", "V"}, {"i_load", "A"}, {"rg_on", "ohm"}, {"rg_off", "ohm"}, {"tj", "K"}, {"tc", "K"},
	{"l_load", "H"}, {"c_bus", "F"}, {"device", ""}, {"position", ""}, {"freewheel", ""},
	{"repeat", count}, {"remark", ""},
}

// notePrefix leads a condition of the user's own naming, in words.
const notePrefix = "note."

// findField returns the field of that name. Names that start with "note." are
// the user's own, in words.
func findField(name string) (field, error) {
	var names []string
	for _, f := range fields {
		if f.name == name {
			return f, nil
		}
		names = append(names, f.name)
	}
	if own, ok := strings.CutPrefix(name, notePrefix); ok && own != "" {
		return field{name: name}, nil
	}
	return field{}, fmt.Errorf("%q is no condition; expected one of %s, or %sNAME for words of your own", name, strings.Join(names, ", "), notePrefix)
}

// heading splits "tj (°C)" or "tj [°C]" into the name and the unit as written.
func heading(text string) (name, symbol string, err error) {
	text = strings.TrimSpace(text)
	for _, pair := range []string{"()", "[]"} {
		open := strings.IndexByte(text, pair[0])
		if open < 0 {
			continue
		}
		if !strings.HasSuffix(text, pair[1:]) {
			return "", "", fmt.Errorf("%q: the unit is not closed; expected a form such as %q", text, "v_bus (V)")
		}
		return strings.TrimSpace(text[:open]), strings.TrimSpace(text[open+1 : len(text)-1]), nil
	}
	return text, "", nil
}

// check tells whether a unit as written fits the field.
func (f field) check(symbol string) error {
	if symbol == "" {
		return nil
	}
	if f.unit == "" || f.unit == count {
		return fmt.Errorf("%s has no unit, but (%s) stands with it", f.name, symbol)
	}
	if _, err := unit.Parse("1 "+symbol, f.unit); err != nil {
		return fmt.Errorf("the unit (%s) does not fit %s; expected one such as (%s)", symbol, f.name, f.unit)
	}
	return nil
}

// condition makes the entry of the record from a text; symbol is the unit that
// holds where the text has none.
func (f field) condition(text, symbol string) (result.Condition, error) {
	c := result.Condition{Key: f.name, Value: math.NaN(), Text: text}
	switch f.unit {
	case "":
		return c, nil
	case count:
		n, err := strconv.Atoi(text)
		if err != nil || n < 1 {
			return c, fmt.Errorf("%s is %q; expected a whole number from 1", f.name, text)
		}
		c.Value = float64(n)
		return c, nil
	}
	if _, err := strconv.ParseFloat(text, 64); err == nil {
		if symbol == "" {
			return c, fmt.Errorf("%s is %s without a unit; write it there, or in the header as in %q", f.name, text, f.name+" ("+f.unit+")")
		}
		text += " " + symbol
	}
	x, err := unit.Parse(text, f.unit)
	if err != nil {
		return c, fmt.Errorf("%s: %w", f.name, err)
	}
	if math.IsInf(x, 0) || math.IsNaN(x) {
		return c, errors.New(f.name + " is not finite")
	}
	if x < 0 || x == 0 && f.unit != "ohm" { // temperatures are absolute, and resistors may be left out
		return c, fmt.Errorf("%s is %s; expected more than nothing (the sign of a channel is for invert in the set-up)", f.name, text)
	}
	return result.Condition{Key: f.name, Value: x, Unit: f.unit, Text: text}, nil
}

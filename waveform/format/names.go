package format

import (
	"strings"

	"slewbook/waveform/unit"
)

// splitUnit takes a name and its unit apart where marks show plainly which is
// which: "Vds (V)", "t [us]", "C1 in V", "t/µs".
func splitUnit(cell string) (name, symbol string) {
	cell = strings.TrimSpace(cell)
	for _, pair := range []string{"()", "[]", "{}", "<>"} {
		open := strings.LastIndexByte(cell, pair[0])
		if open >= 0 && cell[len(cell)-1] == pair[1] {
			symbol = strings.TrimSpace(cell[open+1 : len(cell)-1])
			if _, _, ok := unit.Exponent(symbol); ok {
				return strings.TrimRight(cell[:open], " :,_"), symbol
			}
			if open > 0 && (symbol == "-" || symbol == "1" || symbol == "") {
				return strings.TrimRight(cell[:open], " :,_"), ""
			}
		}
	}
	for _, pair := range []string{"()", "[]", "{}", "<>"} { // "[ns] t"
		if end := strings.IndexByte(cell, pair[1]); end > 0 && end < len(cell)-1 && cell[0] == pair[0] {
			if _, _, ok := unit.Exponent(cell[1:end]); ok {
				return strings.TrimSpace(cell[end+1:]), strings.TrimSpace(cell[1:end])
			}
		}
	}
	if before, after, ok := strings.Cut(" "+cell, " in "); ok {
		if _, _, ok := unit.Exponent(after); ok {
			return strings.TrimSpace(before), after
		}
	}
	if timeWithUnit.MatchString(cell) {
		return cutLast(strings.ReplaceAll(cell, " ", "_"), "_")
	}
	if i := strings.LastIndexByte(cell, '/'); i > 0 {
		after := strings.TrimSpace(cell[i+1:])
		if _, _, ok := unit.Exponent(after); ok {
			return strings.TrimSpace(cell[:i]), after
		}
	}
	return cell, ""
}

// unitStyle returns how the cells of a header give their units. Marks that may
// also be part of a name ("time_s", "Vds V", "CH1, V") are believed only where
// the first cell has them with a unit of time and every other one with a unit.
func unitStyle(cells []string) func(cell string) (name, symbol string) {
	for _, c := range cells {
		if _, symbol := splitUnit(c); symbol != "" && !timeWithUnit.MatchString(c) {
			return splitUnit
		}
	}
	for _, mark := range []string{", ", ",", ": ", ":", " - ", "_", "."} {
		if allUnits(cells, mark) {
			return func(cell string) (string, string) { return cutLast(cell, mark) }
		}
	}
	if allUnits(cells, " ") {
		return func(cell string) (string, string) { return cutLast(cell, " ") }
	}
	return splitUnit
}

func allUnits(cells []string, mark string) bool {
	n := 0
	for i, c := range cells {
		if c == "" || (i > 0 && indexLike(c)) {
			continue
		}
		_, symbol := cutLast(c, mark)
		_, base, ok := unit.Exponent(symbol)
		if !ok || (n == 0) != (base == "s") {
			return false
		}
		n++
	}
	return n > 1
}

// cutLast cuts a cell at the last of the marks.
func cutLast(cell, mark string) (before, after string) {
	if i := strings.LastIndex(cell, mark); i > 0 {
		return strings.TrimSpace(cell[:i]), strings.TrimSpace(cell[i+len(mark):])
	}
	return cell, ""
}

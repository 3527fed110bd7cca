package format

import (
	"bytes"
	"math"
	"strings"
	"unicode/utf8"

	"slewbook/waveform/unit"
)

// dialect is how a text table is written.
type dialect struct {
	eol   byte // '\n', or '\r' where lines end in CR alone
	sep   byte // ',', ';', tab, or ' ' for any number of blanks and tabs
	point byte // '.' or ','
	group byte // mark between thousands: '.', ',', '\'' or ' '; 0 for none
}

// dialects are the ways to write a table, the likelier one first.
func dialects(eol byte) []dialect {
	return []dialect{
		{eol, '\t', '.', 0}, {eol, ';', '.', 0}, {eol, ',', '.', 0},
		{eol, '\t', ',', 0}, {eol, ';', ',', 0}, {eol, ',', ',', 0},
		{eol, ';', ',', ' '}, {eol, '\t', ',', ' '}, {eol, ';', '.', ' '}, {eol, '\t', '.', ' '}, {eol, ',', '.', ' '}, // before blanks, which would cut there
		{eol, ' ', '.', 0}, {eol, ' ', ',', 0}, {eol, '|', '.', 0}, {eol, '|', ',', 0},
		{eol, ';', ',', '.'}, {eol, '\t', ',', '.'}, {eol, ' ', ',', '.'}, {eol, ',', '.', ','},
		{eol, ';', '.', ','}, {eol, '\t', '.', ','},
		{eol, ';', '.', '\''}, {eol, '\t', '.', '\''}, {eol, ',', '.', '\''}, {eol, ' ', '.', '\''},
		{eol, ';', ',', '\''}, {eol, '\t', ',', '\''}, {eol, ' ', ',', '\''},
	}
}

func (d dialect) String() string {
	s := map[byte]string{',': "comma", ';': "semicolon", '\t': "tab", ' ': "blanks", '|': "bars"}[d.sep]
	if d.point == ',' {
		s += ", decimal comma"
	}
	if d.group != 0 {
		s += ", thousands marks"
	}
	return s
}

// line is one line of a text, without its end.
type line struct {
	text  []byte
	start int // byte offset
	no    int // from 1
}

// blank tells whether the line holds nothing but blanks and separators.
func (l line) blank(sep byte) bool { return isBlank(l.text, sep) }

func isBlank(b []byte, sep byte) bool {
	for _, c := range b {
		if c != ' ' && c != '\t' && c != sep && c != '\r' && c != '"' {
			return false
		}
	}
	return true
}

// nextLine returns the line that starts at pos and the start of the next.
func nextLine(text []byte, pos int, eol byte) (l []byte, next int) {
	n := bytes.IndexByte(text[pos:], eol)
	if n < 0 {
		l, next = text[pos:], len(text)
	} else {
		l, next = text[pos:pos+n], pos+n+1
	}
	if len(l) > 0 && l[len(l)-1] == '\r' {
		l = l[:len(l)-1]
	}
	return l, next
}

// lines returns the first lines of text, at most limit.
func lines(text []byte, eol byte, limit int) []line {
	var all []line
	for pos := 0; pos < len(text) && len(all) < limit; {
		l, next := nextLine(text, pos, eol)
		all = append(all, line{l, pos, len(all) + 1})
		pos = next
	}
	return all
}

// split cuts a line into its cells: blanks and quotes around them are off, and
// a separator inside quotes does not cut.
func split(l []byte, sep byte) []string {
	if sep == ' ' {
		return splitBlanks(l)
	}
	var cells []string
	start, quoted := 0, false
	for i := 0; i <= len(l); i++ {
		if i < len(l) && l[i] == '"' {
			quoted = !quoted
		}
		if i == len(l) || (l[i] == sep && !quoted) {
			cells = append(cells, utf8String(trimCell(l[start:i])))
			start = i + 1
		}
	}
	return cells
}

// splitBlanks cuts a line at blanks and tabs outside quotes.
func splitBlanks(l []byte) []string {
	var cells []string
	for i := 0; ; {
		for i < len(l) && (l[i] == ' ' || l[i] == '\t') {
			i++
		}
		if i == len(l) {
			return cells
		}
		n := cellEnd(l[i:], ' ')
		cells = append(cells, utf8String(trimCell(l[i:i+n])))
		i += n
	}
}

// cellEnd returns where the first cell of b ends.
func cellEnd(b []byte, sep byte) int {
	quoted := false
	for i, c := range b {
		if c == '"' {
			quoted = !quoted
		}
		if !quoted && (c == sep || (sep == ' ' && c == '\t')) {
			return i
		}
	}
	return len(b)
}

// trimCell takes blanks and quotes off a cell.
func trimCell(b []byte) []byte {
	b = bytes.TrimSpace(b)
	for _, q := range []byte{'"', '\''} {
		if n := len(b); n >= 2 && b[0] == q && b[n-1] == q {
			b = bytes.TrimSpace(b[1 : n-1])
		}
	}
	return b
}

// utf8String decodes a piece of a file: UTF-8, or Latin-1 where it is none.
func utf8String(b []byte) string {
	if utf8.Valid(b) {
		return string(b)
	}
	runes := make([]rune, len(b))
	for i, c := range b {
		runes[i] = rune(c)
	}
	return string(runes)
}

// sample reads the cell of a sample. The words for samples beyond the range
// give ±Inf, those for missing ones and an empty cell NaN. base is the unit
// that the cell carries itself ("585.0 V"), "" if none.
func (d dialect) sample(cell []byte, shift int) (v float64, base string, ok bool) {
	num, n := scanDecimal(cell, d.point)
	if n > 0 && n == len(cell) {
		return limits(num.float(cell, d.point, shift), shift), "", true
	}
	if d.group != 0 {
		if plain, ok := d.ungroup(cell); ok {
			num, _ := scanDecimal(plain, d.point)
			return num.float(plain, d.point, shift), "", true
		}
	}
	if n > 0 {
		if exp, base, ok := cellUnit(utf8String(cell[n:])); ok {
			return num.float(cell[:n], d.point, exp), base, true
		}
	}
	v, ok = word(cell)
	if minus := []byte("\u2212"); !ok && bytes.Contains(cell, minus) { // as printed in books
		return d.sample(bytes.ReplaceAll(cell, minus, []byte{'-'}), shift)
	}
	return v, base, ok
}

// limits turns the numbers that stand for no number in IEEE 488.2 instruments'
// answers (9.91e37 not a number, ±9.9e37 infinite; from memory) into what they
// mean.
func limits(v float64, shift int) float64 {
	switch a := math.Abs(v); {
	case a < 1e36 || shift != 0:
		return v
	case a == 9.91e37:
		return math.NaN()
	case a == 9.9e37:
		return math.Copysign(math.Inf(1), v)
	}
	return v
}

// cellUnit reads what stands behind the number in a cell: a unit or a prefix.
func cellUnit(s string) (exp int, base string, ok bool) {
	s = strings.TrimSpace(s)
	if exp, base, ok = unit.Exponent(s); ok {
		return exp, base, true
	}
	exp, _, ok = unit.Exponent(s + "V")
	return exp, "", ok && utf8.RuneCountInString(s) == 1
}

// ungroup takes the thousands marks out of a number, if they stand where they
// belong: three digits behind each, one to three before the first.
func (d dialect) ungroup(cell []byte) ([]byte, bool) {
	whole, frac := cell, []byte(nil)
	if i := bytes.IndexByte(cell, d.point); i >= 0 {
		whole, frac = cell[:i], cell[i:]
	}
	groups := bytes.Split(bytes.TrimLeft(whole, "+-"), []byte{d.group})
	for i, g := range groups {
		if len(bytes.Trim(g, "0123456789")) > 0 || len(g) > 3 || len(g) == 0 || (i > 0 && len(g) != 3) {
			return nil, false
		}
	}
	plain := append(bytes.ReplaceAll(whole, []byte{d.group}, nil), frac...)
	_, n := scanDecimal(plain, d.point)
	return plain, len(groups) > 1 && n == len(plain)
}

// word reads the words that stand for a sample.
func word(cell []byte) (v float64, ok bool) {
	if len(cell) == 0 {
		return math.NaN(), true
	}
	if stars := bytes.TrimLeft(cell, "+-"); len(bytes.Trim(stars, "*")) == 0 && len(stars) > 0 || (len(cell) > 1 && len(bytes.Trim(cell, "#")) == 0) || (len(cell) > 1 && len(bytes.Trim(cell, "+")) == 0) {
		if cell[0] == '-' {
			return math.Inf(-1), true
		}
		return math.Inf(1), true
	}
	if len(bytes.Trim(cell, "-?")) == 0 {
		return math.NaN(), true
	}
	if len(cell) > 24 {
		return 0, false
	}
	s := strings.ToLower(strings.TrimRight(strings.TrimLeft(string(cell), "#"), "!"))
	if s == "" {
		return 0, false
	}
	sign := 1.0
	if c := s[0]; c == '-' || c == '+' || c == '>' || c == '<' {
		if c == '-' || c == '<' {
			sign = -1
		}
		s = strings.TrimSpace(s[1:])
	} else if c := s[len(s)-1]; len(s) > 1 && (c == '-' || c == '+') { // "OVER-"
		if c == '-' {
			sign = -1
		}
		s = strings.TrimSpace(s[:len(s)-1])
	}
	if strings.HasPrefix(s, "1.#") {
		s = strings.TrimRight(s, "0")
	}
	if c := cell[0]; c == '>' || c == '<' { // ">800": beyond that number
		if _, n := scanDecimal([]byte(s), '.'); n > 0 && n == len(s) {
			return math.Inf(int(sign)), true
		}
	}
	switch strings.Join(strings.FieldsFunc(s, func(r rune) bool { return r == ' ' || r == '_' || r == '-' || r == '.' || r == '(' || r == ')' }), "") {
	case "nan", "na", "n/a", "null", "none", "missing", "void", "1#qnan", "1#ind", "1#snan", "num", "div/0", "value", "invalid":
		return math.NaN(), true
	case "inf", "infinity", "infinite", "over", "overrange", "overflow", "overload", "ol", "clip", "clipped", "clipping", "ovr", "ovrng",
		"ovl", "ovld", "ofl", "outofrange", "oor", "offscale", "sat", "saturated", "hi", "high", "1#inf", "∞":
		return math.Inf(int(sign)), true
	case "under", "underrange", "underflow", "undr", "ufl", "lo", "low":
		return math.Inf(-1), true
	}
	return 0, false
}

// isNumber tells whether the cell is a decimal number.
func (d dialect) isNumber(cell string) bool {
	if cell == "" || cell[0] > '9' && cell[0] != 0xe2 {
		return false
	}
	v, _, ok := d.sample([]byte(cell), 0)
	return ok && v == v && !math.IsInf(v, 0)
}

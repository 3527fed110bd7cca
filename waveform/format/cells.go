package format

import (
	"bytes"
	"math"
	"strings"
)

// dialect is how a text table is written.
type dialect struct {
	eol   byte // '\n', or '\r' where lines end in CR alone
	sep   byte // ',', ';' or tab
	point byte // '.' or ','
}

func (d dialect) String() string {
	s := map[byte]string{',': "comma", ';': "semicolon", '\t': "tab"}[d.sep]
	if d.point == ',' {
		s += ", decimal comma"
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
		if c != ' ' && c != '\t' && c != sep {
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
	var cells []string
	start, quoted := 0, false
	for i := 0; i <= len(l); i++ {
		if i < len(l) && l[i] == '"' {
			quoted = !quoted
		}
		if i == len(l) || (l[i] == sep && !quoted) {
			cells = append(cells, string(trimCell(l[start:i])))
			start = i + 1
		}
	}
	return cells
}

// trimCell takes blanks and quotes off a cell.
func trimCell(b []byte) []byte {
	b = bytes.TrimSpace(b)
	if n := len(b); n >= 2 && b[0] == '"' && b[n-1] == '"' {
		b = bytes.TrimSpace(b[1 : n-1])
	}
	return b
}

// sample reads the cell of a sample. The words for samples beyond the range
// give ±Inf, those for missing ones and an empty cell NaN.
func (d dialect) sample(cell []byte, shift int) (v float64, ok bool) {
	if num, n := scanDecimal(cell, d.point); n > 0 && n == len(cell) {
		return num.float(cell, d.point, shift), true
	}
	if len(cell) == 0 {
		return math.NaN(), true
	}
	if len(bytes.Trim(cell, "*")) == 0 {
		return math.Inf(1), true
	}
	switch strings.ToLower(string(cell)) {
	case "nan", "na", "n/a", "-", "--", "---":
		return math.NaN(), true
	case "inf", "+inf", "infinity", "+infinity", "over", "overrange", "over range", "clipped", "ovr":
		return math.Inf(1), true
	case "-inf", "-infinity", "under", "underrange", "under range":
		return math.Inf(-1), true
	}
	return 0, false
}

// isNumber tells whether the cell is a decimal number.
func (d dialect) isNumber(cell string) bool {
	_, n := scanDecimal([]byte(cell), d.point)
	return n > 0 && n == len(cell)
}

package format

import (
	"bytes"
	"strings"
)

// tornRow returns the text without its last row where that was cut short, and
// whether it was: fewer fields than the others, or no line end and a last
// number that stops in the middle.
func (t *table) tornRow(text []byte) ([]byte, bool) {
	end := len(text)
	for end > 0 && (isBlank(text[end-1:end], t.sep) || text[end-1] == '\n' || text[end-1] == '\r') {
		end--
	}
	start := bytes.LastIndexByte(text[:end], t.eol) + 1
	if start == 0 {
		return text, false
	}
	l, _ := nextLine(text, start, t.eol)
	cells := split(l, t.sep)
	if t.left >= len(cells) || (!t.isStamp(cells[t.left]) && cells[t.left] != "-") {
		return text, false // no row at all: for the row reader to report
	}
	if len(cells) < t.filled() {
		return text[:start], true
	}
	k := t.filled() - 1
	if bytes.IndexByte(text[start:], t.eol) < 0 && len(cells) == k+1 && t.stopsShort(cells[k], t.columns[k]) {
		return text[:start], true
	}
	return text, false
}

// stopsShort tells whether the cell is the beginning of a number as the column
// writes them: no number yet, or fewer decimals or exponent digits where all
// others have the same.
func (t *table) stopsShort(cell string, c column) bool {
	if c.kind != numbers {
		return false
	}
	if cell == "" {
		return len(strings.Join(c.cells, "")) > 0
	}
	if _, _, ok := t.sample([]byte(cell), 0); !ok || cell == "-" || cell == "+" {
		return true
	}
	// The last cell that was probed may be this one.
	want, same := numberForm(c.cells[:max(len(c.cells)-1, 0)], t.point)
	decimals, exponent := form(cell, t.point)
	return same && (decimals < want[0] || exponent < want[1])
}

// numberForm returns the decimals and exponent characters that all cells
// share.
func numberForm(cells []string, point byte) (want [2]int, same bool) {
	for i, c := range cells {
		d, e := form(c, point)
		if i > 0 && want != [2]int{d, e} {
			return want, false
		}
		want = [2]int{d, e}
	}
	return want, len(cells) >= probeRows/2
}

// form counts the digits after the decimal mark and the characters of the
// exponent.
func form(cell string, point byte) (decimals, exponent int) {
	mantissa := cell
	if i := strings.IndexAny(cell, "eEdD"); i >= 0 {
		mantissa, exponent = cell[:i], len(cell)-i
	}
	if i := strings.IndexByte(mantissa, point); i >= 0 {
		decimals = len(mantissa) - i - 1
	}
	return decimals, exponent
}

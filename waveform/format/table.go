package format

import (
	"bytes"
	"fmt"
	"strings"
	"unicode/utf8"

	"slewbook/waveform"
	"slewbook/waveform/unit"
)

// table is where the samples stand in a text and what its head says of them.
type table struct {
	dialect
	columns []column
	fields  []waveform.Field // of the preamble
	named   bool             // a header row gives names
	start   int              // byte offset of the first row
	line    int              // its line number
	shape   string           // of the header, in words
}

// column is one column of the table.
type column struct {
	name  string
	unit  string // SI unit, "" if the file does not say
	shift int    // power of ten to that unit
	skip  bool   // holds no samples, but words
	cells []string
}

// headLines bounds how far down the first row of samples may stand.
const headLines = 400

// probeRows is how many rows decide what the columns are.
const probeRows = 40

// findTable looks for the samples from the content alone: the first row from
// which on the rows have the same number of cells, at least two, and start
// with a number. Of all ways to cut the lines that make such a table, the one
// with the largest share of numbers is taken.
func findTable(text []byte) (table, *ParseError) {
	eol := byte('\n')
	if !bytes.Contains(text[:min(len(text), headSize)], []byte{'\n'}) {
		eol = '\r'
	}
	head := lines(text, eol, headLines)
	var best table
	found := score{}
	for _, d := range []dialect{{eol, '\t', '.'}, {eol, ';', '.'}, {eol, ',', '.'}, {eol, '\t', ','}, {eol, ';', ','}} {
		first, s := firstRow(head, d)
		if s.beats(found) {
			found = s
			best = table{dialect: d, start: head[first].start, line: head[first].no}
			best.columns = probe(head[first:], d, s.cells)
			best.readHead(head[:first])
			best.dropTrailing()
		}
	}
	if found.numbers == 0 {
		return table{}, noTable(text, head)
	}
	return best, nil
}

// score tells how well a dialect fits.
type score struct {
	numbers, all int // cells of the first rows
	cells        int // in a row
}

// beats compares the shares of numbers, then the numbers.
func (s score) beats(o score) bool {
	a, b := s.numbers*o.all, o.numbers*s.all
	return s.numbers > 0 && (o.numbers == 0 || a > b || (a == b && s.numbers > o.numbers))
}

// firstRow returns the first row of samples under that dialect.
func firstRow(head []line, d dialect) (first int, s score) {
	for i, l := range head {
		n := rowCells(l, d)
		if n == 0 {
			continue
		}
		s := score{cells: n}
		rows := 0
		for _, l := range head[i:] {
			if l.blank(d.sep) {
				continue
			}
			if rows == probeRows || (rows > 2 && rowCells(l, d) != n) {
				break // a short row further down is for the row reader to report
			}
			if rowCells(l, d) != n {
				if last := l.no == head[len(head)-1].no; last && rows > 0 {
					break // torn
				}
				s.numbers = 0
				break
			}
			for _, c := range split(l.text, d.sep)[:n] {
				s.all++
				if d.isNumber(c) {
					s.numbers++
				}
			}
			rows++
		}
		if s.numbers > 0 {
			return i, s
		}
	}
	return 0, score{}
}

// rowCells returns the number of cells if the line can be a row of samples:
// two or more, a number first, another sample after it.
func rowCells(l line, d dialect) int {
	cells := split(l.text, d.sep)
	if len(cells) < 2 || !d.isNumber(cells[0]) {
		return 0
	}
	for _, c := range cells[1:] {
		if _, ok := d.sample([]byte(c), 0); ok && c != "" {
			return len(cells)
		}
	}
	return 0
}

// probe decides what each column holds, from the first rows.
func probe(rows []line, d dialect, n int) []column {
	columns := make([]column, n)
	count := 0
	for _, l := range rows {
		cells := split(l.text, d.sep)
		if l.blank(d.sep) || len(cells) < n {
			continue
		}
		for i, c := range cells[:n] {
			columns[i].cells = append(columns[i].cells, c)
		}
		if count++; count == probeRows {
			break
		}
	}
	for i := range columns {
		columns[i].skip = d.allWords(columns[i].cells)
	}
	return columns
}

// allWords tells whether the cells are words, none of them a sample.
func (d dialect) allWords(cells []string) bool {
	for _, c := range cells {
		if _, ok := d.sample([]byte(c), 0); ok {
			return false
		}
	}
	return true
}

// readHead takes names, units and preamble from the lines above the table.
func (t *table) readHead(head []line) {
	rest := trimBlank(head, t.sep)
	t.shape = "no header row"
	if units, ok := t.headCells(rest); ok && unitRow(units) {
		rest = trimBlank(rest[:len(rest)-1], t.sep)
		t.setUnits(units)
		t.shape = "units row"
	}
	if names, ok := t.headCells(rest); ok && (t.filled() > 2 || heads(names)) {
		rest = rest[:len(rest)-1]
		if t.setNames(names) {
			t.shape = "units in names"
		} else if t.shape != "units row" {
			t.shape = "names row"
		}
	}
	t.fields = preamble(rest, t.sep)
	if len(t.fields) > 0 {
		t.shape = "key,value preamble, " + t.shape
	}
}

// headCells returns the cells of the last line, if it has as many as the
// table; columns behind trailing separators need none. A comment mark before
// it is taken off.
func (t *table) headCells(head []line) (cells []string, ok bool) {
	if len(head) == 0 {
		return nil, false
	}
	n := len(t.columns)
	cells = split(bytes.TrimLeft(head[len(head)-1].text, "#% "), t.sep)
	for len(cells) > n && cells[len(cells)-1] == "" {
		cells = cells[:len(cells)-1]
	}
	if len(cells) < t.filled() || len(cells) > n {
		return nil, false
	}
	return append(cells, make([]string, n-len(cells))...), true
}

// filled returns the number of columns, those behind trailing separators left
// out.
func (t *table) filled() int {
	n := len(t.columns)
	for n > 0 && strings.Join(t.columns[n-1].cells, "") == "" {
		n--
	}
	return n
}

// dropTrailing drops the columns behind trailing separators that nothing
// names.
func (t *table) dropTrailing() {
	for n := len(t.columns); n > t.filled() && t.columns[n-1].name == ""; n-- {
		t.columns = t.columns[:n-1]
	}
}

// unitRow tells whether every cell that is not empty is a unit.
func unitRow(cells []string) bool {
	n := 0
	for _, c := range cells {
		if c == "" {
			continue
		}
		if _, _, ok := unit.Exponent(strings.Trim(c, "()[]")); !ok {
			return false
		}
		n++
	}
	return n > 0
}

func (t *table) setUnits(cells []string) {
	for i, c := range cells {
		t.columns[i].shift, t.columns[i].unit, _ = unit.Exponent(strings.Trim(c, "()[]"))
	}
}

// setNames takes the names and the units in them, and tells whether there were
// any.
func (t *table) setNames(cells []string) (units bool) {
	t.named = true
	for i, c := range cells {
		name, symbol := splitUnit(c)
		col := &t.columns[i]
		col.name = name
		if exp, base, ok := unit.Exponent(symbol); ok {
			col.shift, col.unit = exp, base
			units = true
		}
	}
	return units
}

// splitUnit takes a name and its unit apart: "Vds (V)", "t [us]", "C1 in V".
func splitUnit(cell string) (name, symbol string) {
	for _, pair := range []string{"()", "[]"} {
		open := strings.LastIndexByte(cell, pair[0])
		if open >= 0 && cell[len(cell)-1] == pair[1] {
			symbol = cell[open+1 : len(cell)-1]
			if _, _, ok := unit.Exponent(symbol); ok {
				return strings.TrimRight(cell[:open], " :"), symbol
			}
		}
	}
	if before, after, ok := strings.Cut(" "+cell, " in "); ok {
		if _, _, ok := unit.Exponent(after); ok {
			return strings.TrimSpace(before), after
		}
	}
	return cell, ""
}

// heads tells the header of a table of two columns from a preamble of key and
// value: it names the time, or it gives both units.
func heads(names []string) bool {
	_, x := splitUnit(names[0])
	_, y := splitUnit(names[1])
	return timeLike(names[0]) || (x != "" && y != "")
}

// timeLike tells whether a cell can head a time column.
func timeLike(cell string) bool {
	name, symbol := splitUnit(cell)
	if _, base, ok := unit.Exponent(symbol); ok {
		return base == "s" || base == "Hz"
	}
	name = strings.ToLower(name)
	if _, base, ok := unit.Exponent(name); ok {
		return base == "s"
	}
	return name == "" || name == "t" || strings.HasPrefix(name, "x") ||
		strings.HasPrefix(name, "time") || strings.HasPrefix(name, "zeit")
}

func trimBlank(head []line, sep byte) []line {
	for len(head) > 0 && head[len(head)-1].blank(sep) {
		head = head[:len(head)-1]
	}
	return head
}

// noTable says what stands in a text that holds no table.
func noTable(text []byte, head []line) *ParseError {
	expected := "a table with a time column and at least one column of samples"
	switch {
	case len(bytes.TrimSpace(text)) == 0:
		return &ParseError{Found: "the file is empty", Expected: expected}
	case len(head) == 1 && len(text) > headSize:
		return &ParseError{Found: fmt.Sprintf("one line of %d bytes without a line end", len(text)), Expected: expected}
	}
	first := trimBlank(head[:1], ' ')
	if len(first) == 0 {
		return &ParseError{Found: "text without a table of samples", Expected: expected}
	}
	return &ParseError{Line: 1, Found: "text without a table of samples, which starts " + quote(first[0].text), Expected: expected}
}

// quote shows a piece of a file in a message, shortened.
func quote(b []byte) string {
	const limit = 40
	if len(b) > limit {
		b = b[:limit]
		for len(b) > 0 && !utf8.Valid(b) {
			b = b[:len(b)-1]
		}
		return fmt.Sprintf("%q...", b)
	}
	return fmt.Sprintf("%q", b)
}

package format

import (
	"bytes"
	"fmt"
	"slices"
	"strings"
	"unicode/utf8"
)

// table is where the samples stand in a text and what its head says of them.
type table struct {
	dialect
	columns []column
	left    int     // first column that holds numbers; what stands before is preamble or words
	fields  []field // of the preamble
	named   bool    // a header row gives names
	start   int     // byte offset of the first row
	line    int     // its line number
	shape   string  // of the header, in words
	torn    bool    // the last row was cut short
}

// kind is what a column holds.
type kind byte

const (
	numbers kind = iota
	words        // text, to be passed over
	nothing      // empty, behind or between separators
	aside        // a preamble beside the data, to be passed over
)

// column is one column of the table.
type column struct {
	name  string
	unit  string // SI unit, "" if the file does not say
	shift int    // power of ten to that unit
	kind  kind
	codes string   // what the file calls its units, where they are those of a converter or a screen
	time  bool     // holds time stamps, for the columns behind it
	cells []string // of the first rows
	from  *instant // of a time column: what its stamps are counted from, nil for zero
}

// headLines bounds how far down the first row of samples may stand.
const headLines = 2000

// probeRows is how many rows decide what the columns are.
const probeRows = 40

// findTable looks for the samples from the content alone: the first row from
// which on the rows have the same number of cells and columns of numbers. Of
// all ways to cut the lines that make such a table, the one with the largest
// share of numbers is taken. text is the head of a file, whole lines of it.
func findTable(text []byte) (table, *ParseError) {
	eol := byte('\n')
	if !bytes.Contains(text, []byte{'\n'}) {
		eol = '\r'
	}
	head := lines(text, eol, headLines)
	var best block
	var how dialect
	for _, d := range dialects(eol) {
		if d.sep != ' ' && d.sep != ',' && bytes.IndexByte(text, d.sep) < 0 {
			continue
		}
		if b := findBlock(head, d); b.beats(best) {
			best, how = b, d
		}
		if best.series > 1 && best.numbers == best.all {
			break // nothing but numbers: no other way can be better
		}
	}
	if best.numbers == 0 {
		return table{}, noTable(text, head)
	}
	t := table{dialect: how, columns: best.columns, left: best.left, start: head[best.first].start, line: head[best.first].no}
	if err := t.readHead(head[:best.first], head[best.first:]); err != nil {
		return table{}, err
	}
	t.dropTrailing()
	return t, nil
}

// block is a run of rows that look alike.
type block struct {
	first   int // line
	left    int // first column of numbers
	columns []column
	rows    int // of the first ones
	series  int // columns of numbers
	numbers int // cells that hold a number
	all     int // cells of the columns from left on that are not empty
}

// beats compares the shares of numbers, then the numbers. A single column is
// the last resort: any list of numbers looks like one.
func (b block) beats(o block) bool {
	if (b.series > 1) != (o.series > 1) || o.numbers == 0 {
		return b.series > o.series
	}
	x, y := b.numbers*o.all, o.numbers*b.all
	return x > y || (x == y && b.numbers > o.numbers)
}

// cellClass is what a cell can be in a row of samples.
type cellClass byte

const (
	isOther  cellClass = iota // neither number nor sample
	isEmpty                   // nothing
	isSample                  // a word for a sample
	isDigits                  // a number
)

func isData(c cellClass) bool { return c == isDigits || c == isSample }

// gauge cuts the lines of a head under one dialect, each once.
type gauge struct {
	d       dialect
	head    []line // lines that are not blank
	cells   [][]string
	classes [][]cellClass
}

func newGauge(head []line, d dialect) *gauge {
	g := &gauge{d: d}
	for _, l := range head {
		if !l.blank(d.sep) {
			g.head = append(g.head, l)
		}
	}
	return g
}

// row returns the cells of line i and what each can be.
func (g *gauge) row(i int) ([]string, []cellClass) {
	for len(g.cells) <= i {
		cells := split(g.head[len(g.cells)].text, g.d.sep)
		classes := make([]cellClass, len(cells))
		for k, c := range cells {
			if c == "" {
				classes[k] = isEmpty
			} else if g.d.isStamp(c) {
				classes[k] = isDigits
			} else if _, _, ok := g.d.sample([]byte(c), 0); ok {
				classes[k] = isSample
			}
		}
		g.cells, g.classes = append(g.cells, cells), append(g.classes, classes)
	}
	return g.cells[i], g.classes[i]
}

// findBlock returns the run of rows with the most columns of numbers under that
// dialect, the first such one.
func findBlock(head []line, d dialect) block {
	g := newGauge(head, d)
	var best block
	for i := range g.head {
		if best.series > 0 && i > best.first+2*probeRows {
			break
		}
		b := g.blockAt(i)
		if b.series > best.series && 2*b.rows >= best.rows && (b.series > 1 || d.sep == ',') {
			best = b
			best.first = i
		}
	}
	if best.numbers > 0 {
		best.first = g.head[best.first].no - head[0].no
	}
	return best
}

// blockAt returns the block whose first row is line i.
func (g *gauge) blockAt(i int) block {
	_, classes := g.row(i)
	if !slices.Contains(classes, isDigits) {
		return block{}
	}
	n := len(classes)
	count := 0
	for i+count < len(g.head) && count < probeRows {
		if cells, classes := g.row(i + count); !fits(cells, n) || !slices.ContainsFunc(classes, isData) {
			break
		}
		count++
	}
	// A row of another length further down is for the row reader to report, as
	// is a torn one at the end.
	if left := len(g.head) - i; count < 3 && count < left && (count != left-1 || count == 0) {
		return block{}
	}
	b := block{columns: make([]column, n), left: -1, rows: count}
	judged := count
	if i+count == len(g.head) && count > 3 {
		judged-- // the last row of all may be cut short
	}
	for k := range b.columns {
		var got [4]int
		c := &b.columns[k]
		c.cells = make([]string, count)
		for r := range count {
			cells, classes := g.row(i + r)
			c.cells[r] = cells[k]
			if r < judged {
				got[classes[k]]++
			}
		}
		switch {
		case got[isEmpty] == judged:
			c.kind = nothing
		case got[isOther] > 0 && (got[isDigits] == 0 || k < max(b.left, 0)):
			c.kind = words
		}
		if b.left < 0 {
			// The first column holds a number in every row, save one or two for the
			// row reader to report, or it ends before the others.
			whole := got[isDigits] >= judged-min(judged/8, 2)
			if _, first := g.row(i); first[k] != isDigits || !whole && !b.endsEarly(k) {
				continue
			}
			b.left = k
		}
		if c.kind == numbers {
			b.series++
		}
		b.numbers += got[isDigits]
		b.all += got[isDigits] + got[isOther]
	}
	// Between blanks every sentence with a number looks like a row.
	if b.left > 0 && g.d.sep == ' ' && count < 8 {
		return block{}
	}
	if b.left >= 0 && b.listsEvents(g.d.sep) {
		return block{}
	}
	if b.left < 0 || (b.series == 1 && (b.left > 0 || count < 8)) {
		return block{}
	}
	return b
}

// endsEarly tells whether column k, with no words before it, holds something in
// its first rows and nothing in the others.
func (b block) endsEarly(k int) bool {
	for _, c := range b.columns[:k] {
		if c.kind == words {
			return false
		}
	}
	cells := b.columns[k].cells
	n := slices.Index(cells, "")
	return n > 1 && strings.Join(cells[n:], "") == ""
}

// fits tells whether a row has n cells; empty ones behind them do not count.
func fits(row []string, n int) bool {
	return len(row) >= n && strings.Join(row[n:], "") == ""
}

// filled returns the number of columns, those behind trailing separators left
// out.
func (t *table) filled() int {
	n := len(t.columns)
	for n > 0 && t.columns[n-1].kind >= nothing {
		n--
	}
	return n
}

// dropTrailing drops the columns behind trailing separators that nothing
// names.
func (t *table) dropTrailing() {
	for n := len(t.columns); n > t.filled() && t.columns[n-1].name == "" && t.columns[n-1].kind == nothing; n-- {
		t.columns = t.columns[:n-1]
	}
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
	if len(bytes.TrimSpace(text)) == 0 {
		return &ParseError{Found: "the file is empty", Expected: expected}
	}
	for k := len(head) - 1; k >= 0; k-- {
		if head[k].blank(' ') {
			continue
		}
		for _, d := range dialects(head[k].text[0])[:3] {
			if cells := split(head[k].text, d.sep); len(cells) > 1 && headsTable(cells) {
				return &ParseError{Line: head[k].no, Found: "no rows under the header " + quote(head[k].text), Expected: expected,
					Do: "export again; the instrument may have had no record"}
			}
		}
		break
	}
	first := 0
	for first < len(head)-1 && head[first].blank(' ') {
		first++
	}
	return &ParseError{Line: head[first].no, Found: "text without a table of samples, which starts " + quote(head[first].text), Expected: expected,
		not: "text without a table of samples: settings or notes"}
}

// headsTable tells whether the cells are names under which samples stand.
func headsTable(cells []string) bool {
	_, symbol := splitUnit(cells[0])
	for _, c := range cells[1:] {
		if c != "" && strings.ContainsAny(c[:1], "+-.0123456789") {
			return false
		}
	}
	return cells[0] != "" && timeLike(cells[0]) && (symbol != "" || len(cells[0]) > 1)
}

// quote shows a piece of a file in a message, shortened.
func quote(b []byte) string {
	const limit = 40
	if len(b) > limit {
		b = b[:limit]
		for len(b) > 0 && !utf8.Valid(b) && utf8.Valid(b[:len(b)-1]) {
			b = b[:len(b)-1]
		}
		return fmt.Sprintf("%q...", b)
	}
	return fmt.Sprintf("%q", b)
}

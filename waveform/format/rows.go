package format

import (
	"bytes"
	"fmt"
	"math"
	"runtime"
	"strings"
	"sync"
)

// rows is what the table's rows hold.
type rows struct {
	y      [][]float64 // a slice a column, nil where the column is skipped
	n      int
	stamps precision // of the first column
	varied []bool    // a skipped column whose words change
}

// chunkSize is the size of the blocks that are parsed side by side.
const chunkSize = 1 << 20

// chunk is a block of whole lines and where its rows go.
type chunk struct {
	text   []byte
	line   int // number of its first line
	row    int // index of its first row, if no line before it is blank
	n      int // rows found
	stamps precision
	words  []string // first word of each skipped column
	varied []bool
	err    *ParseError
}

// readRows parses every row of text, which starts at line no, on all cores.
func (t *table) readRows(text []byte, no int) (rows, *ParseError) {
	chunks, lines := t.cut(text, no)
	out := rows{y: make([][]float64, len(t.columns)), varied: make([]bool, len(t.columns))}
	for i, c := range t.columns {
		if !c.skip {
			out.y[i] = make([]float64, lines)
		}
	}
	var wg sync.WaitGroup
	slots := make(chan struct{}, runtime.GOMAXPROCS(0))
	for i := range chunks {
		slots <- struct{}{}
		wg.Go(func() {
			t.readChunk(&chunks[i], out.y)
			<-slots
		})
	}
	wg.Wait()
	for i := range chunks {
		if err := chunks[i].err; err != nil {
			return rows{}, err
		}
		out.join(&chunks[i], chunks[0].words)
	}
	for i := range out.y {
		if out.y[i] != nil {
			out.y[i] = out.y[i][:out.n]
		}
	}
	return out, nil
}

// cut divides text into chunks at line ends and counts the lines.
func (t *table) cut(text []byte, no int) (chunks []chunk, lines int) {
	for pos := 0; pos < len(text); {
		end := min(pos+chunkSize, len(text))
		if i := bytes.IndexByte(text[end:], t.eol); i >= 0 {
			end += i + 1
		} else {
			end = len(text)
		}
		chunks = append(chunks, chunk{text: text[pos:end], line: no + lines, row: lines})
		lines += bytes.Count(text[pos:end], []byte{t.eol})
		pos = end
	}
	return chunks, lines + 1
}

// join closes the holes that blank lines have left and gathers what the chunk
// saw.
func (r *rows) join(c *chunk, words []string) {
	for i, y := range r.y {
		if y != nil && r.n < c.row {
			copy(y[r.n:], y[c.row:c.row+c.n])
		}
		r.varied[i] = r.varied[i] || c.varied[i] || (c.n > 0 && c.words[i] != words[i])
	}
	r.n += c.n
	r.stamps.join(c.stamps)
}

// readChunk parses the chunk's rows into y.
func (t *table) readChunk(c *chunk, y [][]float64) {
	c.words = make([]string, len(t.columns))
	c.varied = make([]bool, len(t.columns))
	c.stamps = noPrecision
	for pos, no := 0, c.line; pos < len(c.text); no++ {
		l, next := nextLine(c.text, pos, t.eol)
		pos = next
		if isBlank(l, t.sep) {
			continue
		}
		if err := t.readRow(l, c, y); err != nil {
			err.Line = no
			c.err = err
			return
		}
		c.n++
	}
}

// readRow parses one row into row c.row+c.n of y.
func (t *table) readRow(l []byte, c *chunk, y [][]float64) *ParseError {
	row, i := c.row+c.n, 0
	for k := range t.columns {
		if i > len(l) {
			return t.fieldCount(l)
		}
		col := &t.columns[k]
		for i < len(l) && l[i] == ' ' {
			i++
		}
		d, n := scanDecimal(l[i:], t.point)
		if end := i + n; n > 0 && !col.skip && (end == len(l) || l[end] == t.sep) {
			y[k][row] = d.float(l[i:end], t.point, col.shift)
			if k == 0 {
				c.stamps.add(d, col.shift)
			}
			i = end + 1
			continue
		}
		end := i + cellEnd(l[i:], t.sep)
		cell := trimCell(l[i:end])
		if col.skip {
			c.note(k, cell)
		} else if v, ok := t.sample(cell, col.shift); !ok {
			return &ParseError{Found: fmt.Sprintf("%s in column %s", quote(cell), col.title(k)), Expected: "a number"}
		} else if y[k][row] = v; k == 0 && v-v != 0 {
			return &ParseError{Found: "no time in the first column", Expected: "a time stamp in every row"}
		}
		i = end + 1
	}
	if i < len(l) && !isBlank(l[i:], t.sep) {
		return t.fieldCount(l)
	}
	return nil
}

// cellEnd returns where the first cell of b ends.
func cellEnd(b []byte, sep byte) int {
	quoted := false
	for i, ch := range b {
		if ch == '"' {
			quoted = !quoted
		}
		if ch == sep && !quoted {
			return i
		}
	}
	return len(b)
}

// note keeps what is needed to know of a column of words.
func (c *chunk) note(k int, cell []byte) {
	if c.n == 0 {
		c.words[k] = string(cell)
	} else if c.words[k] != string(cell) {
		c.varied[k] = true
	}
}

func (t *table) fieldCount(l []byte) *ParseError {
	return &ParseError{
		Found:    fmt.Sprintf("a row of %d fields", len(split(bytes.TrimRight(l, string(rune(t.sep))+" "), t.sep))),
		Expected: fmt.Sprintf("%d as in the rows above", len(t.columns)),
	}
}

// title names a column in a message.
func (c column) title(k int) string {
	if c.name == "" {
		return fmt.Sprint(k + 1)
	}
	return fmt.Sprintf("%d (%s)", k+1, c.name)
}

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
	if d, n := scanDecimal([]byte(cells[0]), t.point); n == 0 && d.digits == 0 && cells[0] != "-" {
		return text, false // no row at all: for the row reader to report
	}
	if len(cells) < len(t.columns) {
		return text[:start], true
	}
	k := len(t.columns) - 1
	if bytes.IndexByte(text[start:], t.eol) < 0 && len(cells) == k+1 && t.stopsShort(cells[k], t.columns[k]) {
		return text[:start], true
	}
	return text, false
}

// stopsShort tells whether the cell is the beginning of a number as the column
// writes them: no number yet, or fewer decimals or exponent digits where all
// others have the same.
func (t *table) stopsShort(cell string, c column) bool {
	if c.skip {
		return false
	}
	if cell == "" {
		return len(strings.Join(c.cells, "")) > 0
	}
	if _, ok := t.sample([]byte(cell), 0); !ok || cell == "-" {
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
	if i := bytes.IndexAny([]byte(cell), "eE"); i >= 0 {
		mantissa, exponent = cell[:i], len(cell)-i
	}
	if i := bytes.IndexByte([]byte(mantissa), point); i >= 0 {
		decimals = len(mantissa) - i - 1
	}
	return decimals, exponent
}

// lineOf returns the number of the line that holds row k.
func (t *table) lineOf(text []byte, no, k int) int {
	for pos := 0; pos < len(text); no++ {
		l, next := nextLine(text, pos, t.eol)
		pos = next
		if isBlank(l, t.sep) {
			continue
		}
		if k == 0 {
			return no
		}
		k--
	}
	return no
}

// count returns how many samples are over range and how many are missing.
func count(y []float64) (over, missing int) {
	for _, v := range y {
		if v-v == 0 {
			continue
		}
		if math.IsNaN(v) {
			missing++
		} else {
			over++
		}
	}
	return over, missing
}

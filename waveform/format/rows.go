package format

import (
	"bytes"
	"fmt"
	"math"
	"runtime"
	"sync"
	"sync/atomic"
)

// rows is what the table's rows hold.
type rows struct {
	y      [][]float64 // a slice a column, nil where the column is skipped
	n      int
	stamps []precision // of each time column
	varied []bool      // a column of words that change
	breaks []int       // rows before which lines without samples stand
	plain  bool        // every cell is a finite number
}

// chunkSize is the size of the blocks that are parsed side by side; overhang is
// what is read beyond one to find the end of its last line, more if need be, up
// to maxLine.
const (
	chunkSize = 1 << 18
	overhang  = 4096
	maxLine   = 1 << 20
)

// chunk is a block of the file and where its rows go. It owns the lines that
// start in it.
type chunk struct {
	from, to int64 // bytes of the file
	row      int   // index of its first row, if every line is one
	n        int   // rows found
	stamps   []precision
	words    []string // first word of each column of words
	varied   []bool
	breaks   []int
	plain    bool
	err      *rowError
}

// rowError is a ParseError at a byte of the file.
type rowError struct {
	ParseError
	at int64
}

// readRows parses every row from byte start to byte end, on all cores. An error
// in a row ends it: the rows before it come back as well.
func (t *table) readRows(in Input, start, end int64) (rows, *rowError) {
	n, err := t.estimateLines(in, start, end)
	if err != nil {
		return rows{}, &rowError{ParseError{Found: err.Error()}, start}
	}
	for {
		out, total, err := t.readInto(in, start, end, n)
		if total <= n {
			return out, err
		}
		n = total // the sampled lines were longer than the others
	}
}

// estimateLines counts the lines of a small text, and of a large one it
// estimates from samples how many there are at most. What is not filled of the
// columns takes no memory, since nothing touches it.
func (t *table) estimateLines(in Input, start, end int64) (int, error) {
	const block, samples = 16 << 10, 64
	lines, seen := 0, int64(0)
	step := max((end-start)/samples, block)
	for at := start; at < end; at += step {
		b, err := in.block(at, int(min(block, end-at)), nil)
		if err != nil {
			return 0, err
		}
		lines += bytes.Count(b, []byte{t.eol})
		seen += int64(len(b))
	}
	if seen >= end-start {
		return lines + 1, nil
	}
	return int(float64(lines)*float64(end-start)/float64(seen)*1.05) + 1000, nil
}

// readInto is readRows with room for n rows. It returns how many lines there
// are; if they are more than n, nothing else.
func (t *table) readInto(in Input, start, end int64, n int) (out rows, total int, err *rowError) {
	chunks := make([]chunk, max((end-start+chunkSize-1)/chunkSize, 1))
	first := make([]chan int, len(chunks)+1) // of the rows of each chunk, known when those before have been counted
	for i := range chunks {
		from := start + int64(i)*chunkSize
		chunks[i].from, chunks[i].to = from, min(from+chunkSize, end)
		first[i] = make(chan int, 1)
	}
	first[len(chunks)] = make(chan int, 1)
	first[0] <- 0
	out = rows{y: make([][]float64, len(t.columns)), varied: make([]bool, len(t.columns)), stamps: t.noStamps(), plain: true}
	onAllCores(len(t.columns), 0, func(k int, _ []byte) { // clearing memory takes time
		if t.columns[k].kind == numbers {
			out.y[k] = make([]float64, n)
		}
	})
	size := 0 // of the buffer that reading from the disk needs
	if in.file != nil {
		size = int(min(chunkSize, end-start)) + 2*overhang
	}
	onAllCores(len(chunks), size, func(i int, buf []byte) {
		c := &chunks[i]
		text, at, err := t.lineText(in, c, start, end, buf)
		if err != nil {
			c.fail(c.from, ParseError{Found: err.Error()})
		}
		lines := bytes.Count(text, []byte{t.eol})
		if len(text) > 0 && text[len(text)-1] != t.eol {
			lines++
		}
		c.row = <-first[i]
		first[i+1] <- c.row + lines
		if c.row+lines <= n {
			t.readChunk(c, text, at, out.y)
		}
	})
	if total = <-first[len(chunks)]; total > n {
		return rows{}, total, nil
	}
	for i := range chunks {
		out.join(&chunks[i], chunks[0].words)
		if err = chunks[i].err; err != nil {
			break
		}
	}
	for k := range out.y {
		if out.y[k] != nil {
			out.y[k] = out.y[k][:out.n]
		}
	}
	return out, total, err
}

// onAllCores calls work for 0 to n-1, in order where there is one core, with a
// buffer of that size for each core.
func onAllCores(n, size int, work func(i int, buf []byte)) {
	var wg sync.WaitGroup
	var next atomic.Int64
	for range min(runtime.GOMAXPROCS(0), n) {
		wg.Go(func() {
			buf := make([]byte, size)
			for i := int(next.Add(1)) - 1; i < n; i = int(next.Add(1)) - 1 {
				work(i, buf)
			}
		})
	}
	wg.Wait()
}

func (c *chunk) fail(at int64, err ParseError) { c.err = &rowError{err, at} }

// lineText returns the chunk's lines whole and the byte they start at.
func (t *table) lineText(in Input, c *chunk, start, end int64, buf []byte) (text []byte, at int64, err error) {
	from := c.from - 1
	if c.from == start {
		from++
	}
	for over := int64(overhang); ; over *= 16 {
		text, err = in.block(from, int(min(c.to+over, end)-from), buf)
		if err != nil {
			return nil, 0, err
		}
		own := int(c.to - from)
		if stop := bytes.IndexByte(text[own-1:], t.eol); stop >= 0 {
			text = text[:own+stop]
		} else if c.to+over < end && over < maxLine {
			continue
		}
		break
	}
	if from == c.from {
		return text, from, nil
	}
	skip := bytes.IndexByte(text, t.eol) + 1
	if skip == 0 || skip > int(c.to-from) {
		return nil, 0, nil // no line starts here
	}
	return text[skip:], from + int64(skip), nil
}

// readChunk parses the chunk's rows, which start at byte at of the file, into y.
func (t *table) readChunk(c *chunk, text []byte, at int64, y [][]float64) {
	c.words = make([]string, len(t.columns))
	c.varied = make([]bool, len(t.columns))
	c.stamps = t.noStamps()
	c.plain = true
	s := t.newScanner(c, y)
	for pos := 0; pos < len(text) && c.err == nil; {
		s.row = c.row + c.n
		pos += s.read(text[pos:])
		if c.n = s.row - c.row; pos == len(text) {
			break
		}
		l, next := nextLine(text, pos, t.eol)
		switch {
		case isBlank(l, t.sep) || (l[0] == '#' && !t.isNumber(split(l, t.sep)[0])):
			if len(c.breaks) < 1<<16 {
				c.breaks = append(c.breaks, c.n)
			}
		default:
			c.plain = false
			if err := t.readRow(l, c, y); err != nil {
				c.fail(at+int64(pos), *err)
				return
			}
			c.n++
		}
		pos = next
	}
}

// noStamps returns what is known of the stamps before the first.
func (t *table) noStamps() []precision {
	p := make([]precision, len(t.columns))
	for k := range p {
		p[k] = noPrecision
	}
	return p
}

// join closes the holes that blank lines have left and gathers what the chunk
// saw.
func (r *rows) join(c *chunk, words []string) {
	for k, y := range r.y {
		if y != nil && r.n < c.row {
			copy(y[r.n:], y[c.row:c.row+c.n])
		}
		r.stamps[k].join(c.stamps[k])
		r.varied[k] = r.varied[k] || c.varied[k] || (c.n > 0 && c.words[k] != words[k])
	}
	for _, b := range c.breaks {
		r.breaks = append(r.breaks, r.n+b)
	}
	r.plain = r.plain && c.plain
	r.n += c.n
}

// readRow parses one row into row c.row+c.n of y.
func (t *table) readRow(l []byte, c *chunk, y [][]float64) *ParseError {
	row, i := c.row+c.n, 0
	for k := range t.columns {
		col := &t.columns[k]
		if t.sep == ' ' {
			for i < len(l) && (l[i] == ' ' || l[i] == '\t') {
				i++
			}
		}
		if i > len(l) || (t.sep == ' ' && i == len(l)) {
			if col.kind >= nothing {
				break
			}
			return t.fieldCount(l)
		}
		end := i + cellEnd(l[i:], t.sep)
		cell := trimCell(l[i:end])
		i = end + 1
		if col.kind != numbers {
			if col.kind == words {
				c.note(k, cell)
			} else if len(cell) > 0 && k > t.left && col.kind == nothing {
				return &ParseError{Found: fmt.Sprintf("%s in column %d, which is empty above", quote(cell), k+1), Expected: "an empty field"}
			}
			continue
		}
		if col.from != nil && len(cell) > 0 {
			v, last, ok := t.since(*col.from, cell, col.shift)
			if !ok {
				return &ParseError{Found: fmt.Sprintf("%s in column %s", quote(cell), col.title(k)), Expected: "a time stamp as in the rows above"}
			}
			y[k][row] = v
			c.stamps[k].add(1<<60, last) // each has as many decimals as the finest
			continue
		}
		d, n := scanDecimal(cell, t.point)
		v, base, ok := t.sample(cell, col.shift)
		if !ok || (base != "" && base != col.unit) {
			return &ParseError{Found: fmt.Sprintf("%s in column %s", quote(cell), col.title(k)), Expected: "a number"}
		}
		y[k][row] = v
		if !col.time {
			continue
		}
		if v-v != 0 && len(cell) > 0 {
			return &ParseError{Found: "no time in column " + col.title(k), Expected: "a time stamp in every row"}
		}
		if n == len(cell) {
			c.stamps[k].add(d.mant, d.exp+col.shift)
		}
	}
	if i < len(l) && !isBlank(l[i:], t.sep) {
		return t.fieldCount(l)
	}
	return nil
}

// note keeps what is needed to know of a column of words.
func (c *chunk) note(k int, cell []byte) {
	if c.n == 0 {
		c.words[k] = utf8String(cell)
	} else if c.words[k] != string(cell) && c.words[k] != utf8String(cell) {
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

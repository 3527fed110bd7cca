package reports

import (
	"fmt"
	"io"
	"math"
	"slices"
	"strings"
	"unicode/utf8"
)

// Table is a table for people, as rows of cells.
type Table struct {
	Rows   [][]string // the headers first; a row may end early
	Keys   int        // leading columns that tell what a row is
	Words  int        // leading columns that are aligned to the left, AllWords for all; the others are numbers
	Indent int        // characters in front of each line
}

// AllWords is for a table that is aligned to the left.
const AllWords = math.MaxInt

// Write writes the table in aligned columns. One that is wider than a line breaks its
// cells of many words; where that does not suffice it continues below, with the keys
// again.
func (t Table) Write(w io.Writer, opt TextOptions) error {
	columns := t.columns(opt)
	if len(columns) < t.Keys {
		return nil
	}
	keys, others := columns[:t.Keys], columns[t.Keys:]
	room := opt.LineWidth() - t.Indent
	var out strings.Builder
	for n, block := range blocks(others, func(c tableColumn) int { return c.least }, room-total(keys)) {
		if n > 0 {
			out.WriteByte('\n')
		}
		t.block(&out, append(slices.Clone(keys), block...), room)
	}
	_, err := io.WriteString(w, out.String())
	return err
}

// columns returns the cells by columns, safe to print.
func (t Table) columns(opt TextOptions) []tableColumn {
	n := 0
	for _, row := range t.Rows {
		n = max(n, len(row))
	}
	columns := make([]tableColumn, n)
	for k := range columns {
		c := &columns[k]
		c.right = k >= t.Words
		for _, row := range t.Rows {
			txt := ""
			if k < len(row) {
				txt = printable(unitLabel(row[k], opt.ASCII), opt.ASCII)
			}
			c.cells = append(c.cells, txt)
		}
		c.measure()
	}
	return columns
}

// WriteParagraph writes a text broken to the width, its first line after head and the
// others indented as far.
func WriteParagraph(w io.Writer, head, txt string, opt TextOptions) error {
	t := textTable{opt: opt}
	t.para(head, t.sentence(txt))
	return t.write(w)
}

// line writes lines, those that are too long broken between words and indented as far as
// they start.
func (t *textTable) line(format string, args ...any) {
	for _, txt := range strings.Split(unitLabel(fmt.Sprintf(format, args...), t.opt.ASCII), "\n") {
		if utf8.RuneCountInString(txt) <= t.opt.LineWidth() {
			t.printf("%s\n", txt)
			continue
		}
		words := strings.TrimLeft(txt, " ")
		t.para(txt[:len(txt)-len(words)], words)
	}
}

// write writes what was collected.
func (t *textTable) write(w io.Writer) error {
	_, err := io.WriteString(w, unitLabel(t.out.String(), t.opt.ASCII))
	return err
}

// rows writes a table below what is written already.
func (t *textTable) rows(table Table) { table.Write(&t.out, t.opt) } // a Builder takes all

// total is the least width of columns side by side; -2 of none, since each that
// follows brings its gap.
func total(columns []tableColumn) int {
	sum := -2
	for _, c := range columns {
		sum += 2 + c.least
	}
	return sum
}

// block writes columns side by side. Those of many words share the room that is left,
// the last one first.
func (t Table) block(out *strings.Builder, columns []tableColumn, room int) {
	left := room - total(columns)
	for k := len(columns) - 1; k >= 0; k-- {
		c := &columns[k]
		c.width = c.least + max(0, min(c.most-c.least, left))
		left -= c.width - c.least
	}
	for n := range t.Rows {
		var lines [][]string // of each column
		high := 1
		for _, c := range columns {
			lines = append(lines, broken(c.cells[n], c.width))
			high = max(high, len(lines[len(lines)-1]))
		}
		for l := range high {
			line := strings.Repeat(" ", t.Indent)
			for k, c := range columns {
				txt := ""
				if l < len(lines[k]) {
					txt = lines[k][l]
				}
				line += c.pad(txt) + "  "
			}
			out.WriteString(strings.TrimRight(line, " ") + "\n")
		}
	}
}

// tableColumn is a column of a table.
type tableColumn struct {
	cells       []string
	right       bool
	least, most int // width with its words broken, and without
	width       int
}

// wordsWidth is how narrow a column of many words may get.
const wordsWidth = 30

// measure finds how narrow and how wide a column is. One word is never broken, and
// headers and values with their unit are no column of many words.
func (c *tableColumn) measure() {
	word, many := 0, false
	for _, txt := range c.cells {
		c.most = max(c.most, utf8.RuneCountInString(txt))
		words := strings.Fields(txt)
		many = many || len(words) > 3
		for _, x := range words {
			word = max(word, utf8.RuneCountInString(x))
		}
	}
	c.least = c.most
	if many {
		c.least = min(c.most, max(wordsWidth, word))
	}
}

func (c tableColumn) pad(txt string) string {
	if c.right {
		return padLeft(txt, c.width)
	}
	return pad(txt, c.width)
}

// broken breaks a text between words into lines of at most that width.
func broken(txt string, width int) []string {
	if utf8.RuneCountInString(txt) <= width {
		return []string{txt}
	}
	var lines []string
	for k, word := range strings.Fields(txt) {
		if last := len(lines) - 1; k > 0 && utf8.RuneCountInString(lines[last])+1+utf8.RuneCountInString(word) <= width {
			lines[last] += " " + word
		} else {
			lines = append(lines, word)
		}
	}
	return lines
}

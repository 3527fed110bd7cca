package reports

import (
	"fmt"
	"io"
	"math"
	"strings"
	"unicode/utf8"

	"slewbook/dpt/result"
)

// TextOptions says how text is laid out.
type TextOptions struct {
	Width int  // of a line in characters; 0 means 110
	ASCII bool // "us" and "ohm" for µs and Ω, and names escaped to ASCII
	Color bool // terminal colours
}

// LineWidth is that of a line in characters.
func (o TextOptions) LineWidth() int {
	if o.Width <= 0 {
		return 110
	}
	return o.Width
}

// paint wraps a text in a terminal attribute; it must be padded before.
func (o TextOptions) paint(attribute, txt string) string {
	if !o.Color || txt == "" {
		return txt
	}
	return "\x1b[" + attribute + "m" + txt + "\x1b[0m"
}

const (
	bold   = "1"
	faint  = "2"
	red    = "31"
	yellow = "33"
)

// nameWidth is how wide the column of captures may get; a longer name stands
// on a line of its own above its numbers.
const nameWidth = 28

// WriteText writes the main quantities of the shots as tables for people, those
// of the turn-off first: one SI prefix for a column, the digits that each value
// supports, decimal points in line, footnotes for the warnings. A shot that
// failed is a row with its reason.
func WriteText(w io.Writer, shots []*result.Shot, opt TextOptions) error {
	t := textTable{opt: opt, shots: shots}
	t.numberNotes()
	t.conditions()
	for _, edge := range []result.Edge{result.TurnOff, result.TurnOn} {
		t.edge(edge)
	}
	t.phases()
	t.footnotes()
	t.explain()
	return t.write(w)
}

// ForText returns a copy of a shot that holds what WriteText needs and no more, for
// those who keep the shots of a long run.
func ForText(s *result.Shot) *result.Shot {
	out := &result.Shot{Capture: s.Capture, Conditions: s.Conditions, Warnings: s.Warnings, Phases: s.Phases, Assumed: s.Assumed, Err: s.Err}
	for _, m := range s.Quantities {
		if inTable(m.Key) {
			m.Budget = nil
			out.Quantities = append(out.Quantities, m)
		}
	}
	return out
}

// textTable collects the text and the footnotes.
type textTable struct {
	opt   TextOptions
	shots []*result.Shot
	out   strings.Builder
	notes []*note
	marks []map[string]string // of each shot's footnotes by quantity, "" for the whole shot
}

func (t *textTable) printf(format string, args ...any) { fmt.Fprintf(&t.out, format, args...) }

// para writes a text wrapped to the width, its first line after head and the
// others indented as far.
func (t *textTable) para(head, txt string) {
	head, txt = unitLabel(head, t.opt.ASCII), unitLabel(txt, t.opt.ASCII)
	indent := strings.Repeat(" ", visible(head))
	used := len(indent)
	t.printf("%s", head)
	for i, word := range strings.Fields(txt) {
		n := utf8.RuneCountInString(word)
		switch {
		case i == 0:
		case used+1+n > t.opt.LineWidth():
			t.printf("\n%s", indent)
			used = len(indent)
		default:
			t.printf(" ")
			used++
		}
		t.printf("%s", word)
		used += n
	}
	t.printf("\n")
}

// sentence makes a text for people safe to print, its units in ASCII if asked.
func (t *textTable) sentence(txt string) string {
	return printable(unitLabel(strings.Join(strings.Fields(txt), " "), t.opt.ASCII), t.opt.ASCII)
}

// visible returns the width of a text without its terminal attributes.
func visible(txt string) int {
	n := 0
	for i, part := range strings.Split(txt, "\x1b[") {
		if i > 0 {
			_, part, _ = strings.Cut(part, "m")
		}
		n += utf8.RuneCountInString(part)
	}
	return n
}

// conditions states the conditions that all shots share.
func (t *textTable) conditions() {
	if len(t.shots) == 0 {
		return
	}
	texts := map[string]bool{}
	for _, s := range t.shots {
		texts[strings.Join(each(s.Conditions, ConditionText), "; ")] = true
	}
	switch {
	case len(texts) > 1:
		t.para("", "Conditions differ from shot to shot; the CSV and JSON output hold them.")
	case len(t.shots[0].Conditions) == 0:
		t.para("", "Conditions: none given.")
	default:
		txt := strings.Join(each(t.shots[0].Conditions, ConditionText), "; ")
		t.para("Conditions: ", t.sentence(txt))
	}
	t.printf("\n")
}

// cell is one number of the table: what stands left of the place of the decimal
// point and right of it, the expanded uncertainty where it is known, and the
// footnotes.
type cell struct {
	whole, fraction, expanded, marks string
}

// tail is what stands right of the place of the decimal point, the fraction
// padded to the width of its column where the uncertainty follows.
func (c cell) tail(fraction int) string {
	if c.expanded == "" {
		return c.fraction
	}
	return pad(c.fraction, fraction) + c.expanded
}

// textColumn is a column with its cells, ready to be padded.
type textColumn struct {
	symbol, unit          string
	cells                 []cell // one for each shot
	whole, fraction, tail int    // widths
}

// measure finds the widths of the cells.
func (c *textColumn) measure() {
	for _, cl := range c.cells {
		c.whole = max(c.whole, len(cl.whole))
		c.fraction = max(c.fraction, len(cl.fraction))
	}
	for _, cl := range c.cells {
		c.tail = max(c.tail, utf8.RuneCountInString(cl.tail(c.fraction))+len(cl.marks))
	}
}

func (c *textColumn) width() int {
	return max(c.whole+c.tail, utf8.RuneCountInString(c.symbol), utf8.RuneCountInString(c.unit))
}

// edge writes the columns of one edge, in as many tables as the width needs.
func (t *textTable) edge(edge result.Edge) {
	var columns []*textColumn
	for _, c := range result.Columns {
		if c.Edge == edge && c.Text {
			columns = append(columns, t.column(c))
			if c.Unit == "J" {
				columns = append(columns, t.perDelay(c))
			}
		}
	}
	names := t.names()
	title := edgeName(edge)
	for _, block := range blocks(columns, (*textColumn).width, t.opt.LineWidth()-nameColumn(names)) {
		t.table(title, edge, names, block)
		title = edgeName(edge) + ", continued"
	}
}

// blocks splits columns into as few tables as the width allows, and those as
// even as can be: a last column does not stand alone.
func blocks[C any](columns []C, widthOf func(C) int, width int) [][]C {
	split := func(width int) (out [][]C) {
		used := 0
		for i, c := range columns {
			if used += 2 + widthOf(c); i == 0 || used > width {
				out = append(out, nil)
				used = 2 + widthOf(c)
			}
			out[len(out)-1] = append(out[len(out)-1], c)
		}
		return out
	}
	best := split(width)
	for narrower := width - 1; narrower > 0; narrower-- {
		next := split(narrower)
		if len(next) > len(best) {
			break
		}
		best = next
	}
	return best
}

// perDelay is the column beside an energy that tells what a nanosecond does: its
// relative change with a lag of the current.
func (t *textTable) perDelay(c result.Column) *textColumn {
	col := &textColumn{symbol: "per ns", unit: "%"}
	for _, s := range t.shots {
		cl := cell{whole: "-"}
		if m := s.Quantity(c.Key); m != nil && s.Err == nil && m.PerDelay != 0 && known(m.Value) {
			txt := fmt.Sprintf("%+.1f", 100*m.PerDelay*1e-9/m.Value)
			point := strings.IndexByte(txt, '.')
			cl.whole, cl.fraction = txt[:point], txt[point:]
		}
		col.cells = append(col.cells, cl)
	}
	col.measure()
	return col
}

// column formats one quantity of all shots.
func (t *textTable) column(c result.Column) *textColumn {
	values := each(t.shots, func(s *result.Shot) float64 {
		if m := s.Quantity(c.Key); m != nil && s.Err == nil && !math.IsInf(m.Value, 0) {
			return m.Value
		}
		return math.NaN()
	})
	size, unit := scaleFor(values, c.Unit)
	col := &textColumn{symbol: c.Symbol, unit: unitLabel(unit, t.opt.ASCII)}
	for i, s := range t.shots {
		cl := cell{whole: "-", marks: t.marks[i][c.Key]}
		if !math.IsNaN(values[i]) {
			m := s.Quantity(c.Key)
			places := decimals(m.Value, m.U, size)
			txt := decimal(m.Value/size, places)
			point := strings.IndexByte(txt+".", '.')
			cl.whole, cl.fraction = txt[:point], txt[point:]
			if known(m.U) {
				cl.expanded = plusMinus(t.opt.ASCII) + decimal(2*m.U/size, places)
			}
		}
		col.cells = append(col.cells, cl)
	}
	col.measure()
	return col
}

func plusMinus(ascii bool) string { return ifElse(ascii, "+/-", "±") }

// names returns what stands in the first column: the capture with the marks of
// what concerns the whole shot.
func (t *textTable) names() []string {
	names := each(t.shots, func(s *result.Shot) string { return printable(s.Capture, t.opt.ASCII) })
	for i := range names {
		names[i] = strings.TrimSpace(names[i] + " " + t.marks[i][""])
	}
	return names
}

// nameColumn returns the width of the first column.
func nameColumn(names []string) int {
	width := len("capture")
	for _, n := range names {
		if w := utf8.RuneCountInString(n); w <= nameWidth {
			width = max(width, w)
		}
	}
	return width
}

// table writes one table.
func (t *textTable) table(title string, edge result.Edge, names []string, columns []*textColumn) {
	first := nameColumn(names)
	t.printf("%s\n", t.opt.paint(bold, title))
	symbols, units := pad("capture", first), pad("", first)
	for _, c := range columns {
		symbols += "  " + padLeft(c.symbol, c.width())
		units += "  " + padLeft(c.unit, c.width())
	}
	t.printf("%s\n%s\n", t.opt.paint(bold, strings.TrimRight(symbols, " ")), t.opt.paint(faint, strings.TrimRight(units, " ")))
	for i, s := range t.shots {
		head := pad(names[i], first)
		if utf8.RuneCountInString(names[i]) > first {
			t.printf("%s\n", names[i])
			head = pad("", first)
		}
		if s.Err != nil {
			t.failed(head, s.Err, edge)
			continue
		}
		t.printf("%s\n", strings.TrimRight(head+t.numbers(columns, i), " "))
	}
	t.printf("\n")
}

// numbers writes the cells of one shot; where all are missing for the same
// stated reason, the reason stands but once.
func (t *textTable) numbers(columns []*textColumn, i int) string {
	first, same := columns[0].cells[i], true
	row := ""
	for _, c := range columns {
		same = same && c.cells[i] == first
		row += "  " + t.cell(c, i)
	}
	if same && first.whole == "-" && first.marks != "" {
		return "  not measured" + t.opt.paint(yellow, first.marks)
	}
	return row
}

// cell pads a number so that the decimal points of its column are in line.
func (t *textTable) cell(c *textColumn, i int) string {
	cl := c.cells[i]
	tail := cl.tail(c.fraction)
	left := strings.Repeat(" ", c.width()-c.tail-len(cl.whole))
	right := strings.Repeat(" ", c.tail-utf8.RuneCountInString(tail)-len(cl.marks))
	return left + cl.whole + tail + t.opt.paint(yellow, cl.marks) + right
}

// failed writes the row of a shot without numbers, its reason at the first
// table only.
func (t *textTable) failed(head string, err error, edge result.Edge) {
	if edge != result.TurnOff {
		t.printf("%s  %s\n", head, t.opt.paint(red, "not measured, see above"))
		return
	}
	t.para(head+"  ", "not measured: "+t.sentence(err.Error()))
}

// pad fills a text with spaces up to a width in characters.
func pad(txt string, width int) string {
	return txt + strings.Repeat(" ", max(0, width-utf8.RuneCountInString(txt)))
}

func padLeft(txt string, width int) string {
	return strings.Repeat(" ", max(0, width-utf8.RuneCountInString(txt))) + txt
}

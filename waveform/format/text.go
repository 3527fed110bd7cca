package format

import (
	"bytes"
	"fmt"
	"math"
	"regexp"
	"slices"
	"strconv"

	"slewbook/waveform"
)

// textFormat reads tables of text: rows of numbers with a time column, under
// names, units and a preamble as far as the file has them.
var textFormat = Format{Name: "text table", Recognise: isText, Read: readText}

// text is a file of text under reading.
type text struct {
	in       Input
	head     []byte // first lines, whole
	bom      int    // bytes of the mark before them
	end      int64  // where the rows end
	warnings []waveform.Warning
}

// readText reads a text: one capture, or one for each segment or each table
// that stands below another.
func readText(in Input) ([]*waveform.Capture, error) {
	captures, err := readTables(in)
	if err != nil {
		err.File, err.Offset = in.Name, -1
		return nil, err
	}
	return captures, nil
}

func readTables(in Input) ([]*waveform.Capture, *ParseError) {
	x, err := openText(in)
	if err != nil {
		return nil, err
	}
	t, err := findTable(x.head)
	if err != nil {
		return nil, err
	}
	t.start = max(t.start, x.bom)
	if err := t.giveRoles(); err != nil {
		return nil, err
	}
	if err := x.cutTorn(&t); err != nil {
		return nil, err
	}
	r, rowErr := t.readRows(x.in, int64(t.start), x.end)
	if rowErr != nil && r.n > 1 {
		if more, ok := x.below(&t, rowErr); ok {
			return x.stacked(&t, r, more)
		}
		if x.footer(&t, rowErr.at) {
			rowErr = nil
		}
	}
	if rowErr != nil {
		rowErr.Line = x.lineOf(rowErr.at, t.eol)
		return nil, &rowErr.ParseError
	}
	captures, axisErr := t.captures(in.opt, r)
	if axisErr != nil {
		perr := &ParseError{Found: axisErr.found, Expected: axisErr.expected, Do: axisErr.do}
		if axisErr.row >= 0 {
			perr.Line = x.lineOfRow(&t, axisErr.row)
		}
		return nil, perr
	}
	return x.finish(captures)
}

// finish puts the warnings of the file onto each capture and checks it.
func (x *text) finish(captures []*waveform.Capture) ([]*waveform.Capture, *ParseError) {
	for _, c := range captures {
		c.Warnings = append(append([]waveform.Warning(nil), x.warnings...), c.Warnings...)
		if err := c.Check(); err != nil {
			return nil, &ParseError{Found: err.Error()}
		}
	}
	return captures, nil
}

// openText decodes the file as far as the row reader needs: what is no
// extension of ASCII, or ends its lines in several ways, is turned into UTF-8
// with LF in memory.
func openText(in Input) (*text, *ParseError) {
	head, err := in.head()
	if err != nil {
		return nil, in.fault(err.Error(), "", "")
	}
	if order := utf16Order(head); order != nil {
		data, perr := decodeUTF16(in, order)
		if perr != nil {
			return nil, perr
		}
		in = Input{Name: in.Name, Data: data, opt: in.opt}
	} else if loneReturns(head) {
		data, err := in.bytes()
		if err != nil {
			return nil, in.fault(err.Error(), "", "")
		}
		in = Input{Name: in.Name, Data: oneLineEnd(data), opt: in.opt}
	}
	marked := func(mark string) bool { return bytes.Contains(head, []byte(mark)) }
	if slices.ContainsFunc([]string{"\u00a0", "\u202f", "\u2009", "\u2019"}, marked) && thousands.Match(head) {
		data, err := in.bytes()
		if err != nil {
			return nil, in.fault(err.Error(), "", "")
		}
		in = Input{Name: in.Name, Data: thousands.ReplaceAll(data, []byte("$1'$2")), opt: in.opt}
	}
	x := &text{in: in}
	if err := x.trimEnd(); err != nil {
		return nil, in.fault(err.Error(), "", "")
	}
	if x.head, err = in.limited(x.end).head(); err != nil {
		return nil, in.fault(err.Error(), "", "")
	}
	if int64(len(x.head)) < x.end {
		stop := bytes.LastIndexAny(x.head, "\r\n") + 1
		if stop == 0 {
			return nil, &ParseError{Found: fmt.Sprintf("one line of %d bytes or more without a line end", len(x.head)),
				Expected: "a table with a time column and at least one column of samples"}
		}
		x.head = x.head[:stop]
	}
	if bom := []byte("\xef\xbb\xbf"); bytes.HasPrefix(x.head, bom) {
		x.head = append([]byte("   "), x.head[len(bom):]...) // keeps the offsets
		x.bom = len(bom)
	}
	return x, nil
}

// thousands matches marks beyond ASCII between thousands: the blanks that do
// not break (U+00A0, U+2009, U+202F) and the apostrophe of print (U+2019).
var thousands = regexp.MustCompile(`(\d)(?:\x{00a0}|\x{202f}|\x{2009}|\x{2019})(\d\d\d)`)

// trimEnd finds where the text ends: NUL bytes behind it are warned of, the end
// mark of old systems (Ctrl-Z) is not.
func (x *text) trimEnd() error {
	x.end = x.in.Size()
	for x.end > 0 {
		from := max(x.end-64<<10, 0)
		b, err := x.in.block(from, int(x.end-from), nil)
		if err != nil {
			return err
		}
		kept := len(bytes.TrimRight(b, "\x00\x1a"))
		if bytes.IndexByte(b[kept:], 0) >= 0 && len(x.warnings) == 0 {
			x.warnings = []waveform.Warning{{Code: waveform.TrailingBytes}}
		}
		x.end = from + int64(kept)
		if kept > 0 {
			break
		}
	}
	if len(x.warnings) > 0 {
		x.warnings[0].Text = fmt.Sprintf("%d NUL bytes after the last row", x.in.Size()-x.end)
	}
	return nil
}

// cutTorn leaves a torn last row out.
func (x *text) cutTorn(t *table) *ParseError {
	from := max(x.end-64<<10, int64(t.start))
	tail, err := x.in.block(from, int(x.end-from), nil)
	if err != nil {
		return x.in.fault(err.Error(), "", "")
	}
	if whole, torn := t.tornRow(tail); torn {
		x.end = from + int64(len(whole))
		x.warnings = append(x.warnings, waveform.Warning{Code: waveform.RowTorn, Text: "the last row is cut short and was left out"})
		t.torn = true
	}
	return nil
}

// lineOf returns the number of the line that holds byte at.
func (x *text) lineOf(at int64, eol byte) int {
	no := 1
	for pos := int64(0); pos < at; pos += chunkSize {
		b, err := x.in.block(pos, int(min(chunkSize, at-pos)), nil)
		if err != nil {
			return 0
		}
		no += bytes.Count(b, []byte{eol})
	}
	return no
}

// lineOfRow returns the number of the line that holds row k.
func (x *text) lineOfRow(t *table, k int) int {
	data, err := x.in.block(int64(t.start), int(x.end)-t.start, nil)
	if err != nil {
		return 0
	}
	no := t.line
	for pos := 0; pos < len(data); no++ {
		l, next := nextLine(data, pos, t.eol)
		pos = next
		if isBlank(l, t.sep) || l[0] == '#' {
			continue
		}
		if k == 0 {
			return no
		}
		k--
	}
	return no
}

// captures makes a capture of the rows, or one for each segment.
func (t *table) captures(opt Options, r rows) ([]*waveform.Capture, *axisError) {
	parts, err := t.segments(r)
	if err != nil {
		return nil, err
	}
	var all []*waveform.Capture
	for i, p := range parts {
		c := &waveform.Capture{Segments: len(parts), Layout: t.String() + "; " + t.shape, Header: header(t.fields)}
		c.Header = append(c.Header, t.firstStamp()...)
		if len(parts) > 1 {
			c.Header = append(c.Header, t.trigger(i+1)...)
		}
		if err := t.traces(c, opt, p.rows); err != nil {
			if err.row >= 0 {
				err.row += p.first
			}
			return nil, err
		}
		if len(parts) == 1 {
			t.checkLength(c, r.n)
		}
		all = append(all, c)
	}
	return all, nil
}

// checkLength compares the rows with the record length that the preamble
// states. A torn last row counts.
func (t *table) checkLength(c *waveform.Capture, n int) {
	stated := t.length(t.fields)
	if t.torn {
		n++
	}
	if stated > 0 && stated != float64(n) {
		c.Warnings = append(c.Warnings, waveform.Warning{Code: waveform.RecordLength,
			Text: fmt.Sprintf("the header states %.0f samples, the file holds %d", stated, n)})
	}
}

// leastUneven is how many rows a table of uneven steps must have to be taken
// for a record.
const leastUneven = 16

// axisOf returns the axis of the stamps in column k, or of the preamble where k
// is negative; stated is the interval there [s], NaN if it gives none.
func (t *table) axisOf(k int, stated float64, opt Options, r rows) (axis, *axisError) {
	if k >= 0 {
		y := r.y[k]
		if !r.plain {
			for len(y) > 0 && math.IsNaN(y[len(y)-1]) {
				y = y[:len(y)-1]
			}
			if i := slices.IndexFunc(y, func(v float64) bool { return v != v }); i >= 0 {
				return axis{}, &axisError{i, "no time in column " + t.columns[k].title(k), "a time stamp in every row", ""}
			}
		}
		a, err := newAxis(y, r.stamps[k], stated)
		a.rows = len(y)
		if c := t.columns[k]; err == nil && a.uneven != nil && (len(y) < leastUneven || c.unit != "s" && (c.name == "" || !timeLike(c.name))) {
			return a, &axisError{-1, "numbers in the first column that neither grow evenly nor are named as time", "a time column", "export with names of columns, or as evenly spaced samples"}
		}
		return a, err
	}
	if opt.Interval > 0 {
		if math.Abs(stated-opt.Interval) > conflictLimit*opt.Interval {
			return axis{}, &axisError{-1, fmt.Sprintf("a sample interval of %s in the header and of %s in the set-up", seconds(stated), seconds(opt.Interval)),
				"the same interval in both", "correct the one that is wrong"}
		}
		return axis{t0: opt.Start, dt: opt.Interval}, nil
	}
	if math.IsNaN(stated) {
		return axis{}, &axisError{-1, t.noTime(), "a time column, or a sample interval in the preamble",
			"export with time, or give the interval in the set-up file ([file] interval)"}
	}
	t0 := t.origin(t.fields, stated)
	if first := t.firstCount(); t0 == 0 && first < 0 { // sample numbers that count from the trigger
		t0 = float64(first) * stated
	}
	return axis{t0: t0, dt: stated}, nil
}

// firstCount returns the first of the sample numbers that stand before the
// samples, 0 if there are none.
func (t *table) firstCount() int {
	if t.samples() < 2 || !t.counts(t.left) {
		return 0
	}
	first, _ := strconv.Atoi(t.columns[t.left].cells[0])
	return first
}

func (t *table) noTime() string {
	for k := t.left; k < len(t.columns); k++ {
		if t.columns[k].kind == numbers {
			if t.counts(k) {
				return "sample numbers in the first column and no time"
			}
			break
		}
	}
	return "no column that holds time"
}

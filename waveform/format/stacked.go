package format

import (
	"bytes"
	"fmt"
	"math"
	"regexp"

	"slewbook/waveform"
)

// maxStacked bounds how many tables may stand one below another.
const maxStacked = 10_000

// below looks for another table under the rows that were read: lines of a head
// and then rows as before.
func (x *text) below(t *table, at *rowError) (table, bool) {
	b, err := x.in.limited(x.end).block(at.at, headSize, nil)
	if err != nil {
		return table{}, false
	}
	if at.at+int64(len(b)) < x.end {
		b = b[:bytes.LastIndexByte(b, t.eol)+1]
	}
	l, _ := nextLine(b, 0, t.eol)
	if cells := split(l, t.sep); len(cells) > t.left {
		if _, _, ok := t.sample([]byte(cells[t.left]), 0); (ok || t.isStamp(cells[t.left])) && cells[t.left] != "" {
			return table{}, false // a row that is wrong, not a head
		}
	}
	next, perr := findTable(b)
	if perr != nil || next.sep != t.sep || next.point != t.point || next.filled() != t.filled() || next.left != t.left {
		return table{}, false
	}
	next.start += int(at.at)
	if !next.named {
		for k := range next.columns {
			next.columns[k].name, next.columns[k].unit, next.columns[k].shift = t.columns[k].name, t.columns[k].unit, t.columns[k].shift
		}
		next.named = t.named
	}
	if len(next.fields) == 0 {
		next.fields = t.fields
	}
	perr = next.giveRoles()
	for k := range next.columns {
		if next.columns[k].from != nil && t.columns[k].from != nil {
			next.columns[k].from = t.columns[k].from
		}
	}
	return next, perr == nil
}

// stacked reads the tables that stand one below another: r holds the rows of
// the first, next is the second. They are one file's shots, if they have the
// same channels and sampling.
func (x *text) stacked(t *table, r rows, next table) ([]*waveform.Capture, *ParseError) {
	all, axisErr := t.captures(x.in.opt, r)
	heads := make([]int64, len(all)) // the byte at which the table of each capture starts
	for axisErr == nil {
		if len(all) >= maxStacked {
			return nil, &ParseError{Found: fmt.Sprintf("more than %d tables one below another", maxStacked), Expected: "one record, or some"}
		}
		r, rowErr := next.readBlock(x.in, int64(next.start), x.end)
		var more table
		found := false
		if rowErr != nil && r.n > 0 {
			if more, found = x.below(&next, rowErr); !found && x.footer(&next, rowErr.at) {
				rowErr = nil
			}
		}
		if rowErr != nil && !found {
			rowErr.Line = x.lineOf(rowErr.at, next.eol)
			return nil, &rowErr.ParseError
		}
		next.torn = t.torn && !found
		var cs []*waveform.Capture
		if cs, axisErr = next.captures(x.in.opt, r); axisErr != nil {
			break
		}
		all = append(all, cs...)
		for range cs {
			heads = append(heads, int64(next.start))
		}
		if !found {
			break
		}
		next = more
	}
	if axisErr != nil {
		return nil, &ParseError{Found: fmt.Sprintf("table %d of several in the file: %s", len(all)+1, axisErr.found), Expected: axisErr.expected, Do: axisErr.do}
	}
	if k, err := alike(all); err != nil {
		err.Line = x.lineOf(heads[k], t.eol)
		return nil, err
	}
	for _, c := range all {
		c.Segments, c.Layout = len(all), all[0].Layout
	}
	return x.finish(all)
}

// alike tells whether the captures can be shots of one file; if not, k is the
// first that cannot.
func alike(all []*waveform.Capture) (k int, err *ParseError) {
	if k, err := sameChannels(all); err != nil {
		return k, err
	}
	a := all[0]
	for i, b := range all[1:] {
		if da, db := a.Traces[0].Dt, b.Traces[0].Dt; math.Abs(da-db) > conflictLimit*da {
			return i + 1, &ParseError{Found: fmt.Sprintf("captures with different steps in one file, %s and %s", seconds(da), seconds(db)), Expected: "the same sampling in each", Do: "split the file"}
		}
		// A wait longer than the records around it is one for another trigger.
		last, next := all[i].Traces[0].Span(), b.Traces[0].Span()
		if wait := next.From - last.To; wait > 0 && wait <= max(last.Duration(), next.Duration()) {
			return i + 1, &ParseError{Found: fmt.Sprintf("a line of text inside a record, above %s", seconds(next.From)), Expected: "rows without a break, or a time that starts again",
				Do: "take the line out"}
		}
	}
	return 0, nil
}

// sameChannels tells whether the captures have the same channels; if not, k is
// the first that has others.
func sameChannels(all []*waveform.Capture) (k int, err *ParseError) {
	a := all[0]
	for i, b := range all[1:] {
		same := len(b.Traces) == len(a.Traces)
		for k := 0; same && k < len(a.Traces); k++ {
			same = a.Traces[k].Name == b.Traces[k].Name && a.Traces[k].Unit == b.Traces[k].Unit
		}
		if !same {
			return i + 1, &ParseError{Found: fmt.Sprintf("captures of different channels in one file, the first and number %d", i+2), Expected: "the same channels in each", Do: "split the file"}
		}
	}
	return 0, nil
}

// readBlock reads rows until one is wrong, not all of the file at once.
func (t *table) readBlock(in Input, start, end int64) (rows, *rowError) {
	out := rows{y: make([][]float64, len(t.columns)), varied: make([]bool, len(t.columns)), stamps: t.noStamps()}
	for pos := start; pos < end; {
		stop := min(pos+64<<10, end)
		if stop < end {
			b, err := in.block(stop, maxLine, nil)
			if err != nil {
				return out, &rowError{ParseError{Found: err.Error()}, stop}
			}
			stop += int64(max(bytes.IndexByte(b, t.eol)+1, 0))
			if int64(len(b)) == end-stop && bytes.IndexByte(b, t.eol) < 0 {
				stop = end
			}
		}
		r, err := t.readRows(in, pos, stop)
		for _, b := range r.breaks {
			out.breaks = append(out.breaks, out.n+b)
		}
		for k := range out.y {
			out.y[k] = append(out.y[k], r.y[k]...)
			out.varied[k] = out.varied[k] || r.varied[k]
			out.stamps[k].join(r.stamps[k])
		}
		out.n += r.n
		if err != nil {
			return out, err
		}
		pos = stop
	}
	return out, nil
}

var endMark = regexp.MustCompile(`(?i)^[\s"'\[<#%;/*=-]*(end|eof|ende|stop)?([ _]?of)?[ _]?(data|file|waveform|record|curve|daten)?[\s"'\]>#%;,*=.-]*$|^\s*[#%;]`)

// footer tells whether nothing but a few lines of text stand at the byte where
// the rows end. It warns of them, unless they are comments or mark the end.
func (x *text) footer(t *table, at int64) bool {
	const longest = 4096
	if x.end-at > longest {
		return false
	}
	b, err := x.in.block(at, int(x.end-at), nil)
	if err != nil {
		return false
	}
	silent := true
	for _, l := range lines(b, t.eol, 100) {
		if l.blank(t.sep) {
			continue
		}
		cells := split(l.text, t.sep)
		for _, c := range cells {
			if t.isNumber(c) && (len(cells) >= t.filled() || c == cells[0]) {
				return false
			}
		}
		silent = silent && endMark.Match(l.text)
	}
	if !silent {
		x.warnings = append(x.warnings, waveform.Warning{Code: waveform.TrailingBytes, Text: "text after the last row was left out: " + quote(bytes.TrimSpace(b))})
	}
	return true
}

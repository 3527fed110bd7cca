package format

import (
	"bytes"
	"fmt"
	"math"
	"strconv"
	"strings"
	"unicode/utf8"

	"slewbook/waveform"
)

// textFormat reads tables of text: rows of numbers with a time column, under
// names, units and a preamble as far as the file has them.
var textFormat = Format{Name: "text table", Recognise: isText, Read: readText}

// isText tells whether the head is text: valid UTF-8 without control
// characters. NUL bytes are allowed at the end, where some writers pad.
func isText(head []byte, _ string) bool {
	head = bytes.TrimRight(head, "\x00")
	for i, c := range head {
		if (c < ' ' && c != '\t' && c != '\n' && c != '\r' && c != '\f') || c == 0x7f {
			return false
		}
		if c >= utf8.RuneSelf && !utf8.FullRune(head[i:]) && len(head) > headSize-utf8.UTFMax {
			head = head[:i] // a character cut by the end of the head
			break
		}
	}
	return utf8.Valid(head)
}

// readText reads a text into one capture.
func readText(in Input) ([]*waveform.Capture, error) {
	c, err := readTable(in.Data)
	if err != nil {
		err.File = in.Name
		err.Offset = -1
		return nil, err
	}
	return []*waveform.Capture{c}, nil
}

func readTable(data []byte) (*waveform.Capture, *ParseError) {
	c := &waveform.Capture{Segments: 1}
	text := bytes.TrimPrefix(data, []byte("\xef\xbb\xbf"))
	if trimmed := bytes.TrimRight(text, "\x00"); len(trimmed) < len(text) {
		c.Warnings = append(c.Warnings, waveform.Warning{Code: waveform.TrailingBytes,
			Text: fmt.Sprintf("%d NUL bytes after the last row", len(text)-len(trimmed))})
		text = trimmed
	}
	t, err := findTable(text)
	if err != nil {
		return nil, err
	}
	if err := t.checkTime(); err != nil {
		return nil, err
	}
	if key, ok := codesKey(t.fields); ok {
		return nil, &ParseError{Found: "converter codes, which the field " + strconv.Quote(key) + " of the preamble turns into values",
			Expected: "samples in volts or amperes", Do: "export values instead of codes"}
	}
	body, torn := t.tornRow(text[t.start:])
	if torn {
		c.Warnings = append(c.Warnings, waveform.Warning{Code: waveform.RowTorn, Text: "the last row is cut short and was left out"})
	}
	r, err := t.readRows(body, t.line)
	if err != nil {
		return nil, err
	}
	a, axisErr := newAxis(r.y[0], r.stamps, statedInterval(t.fields, t.point))
	if axisErr == nil {
		axisErr = t.checkIndex(r, a)
	}
	if axisErr != nil {
		err := &ParseError{Found: axisErr.found, Expected: axisErr.expected, Do: axisErr.do}
		if axisErr.row >= 0 {
			err.Line = t.lineOf(body, t.line, axisErr.row)
		}
		return nil, err
	}
	c.Layout = t.String() + "; " + t.shape
	c.Header = t.fields
	c.Warnings = append(c.Warnings, a.warnings...)
	t.checkLength(c, r.n, torn)
	return c, t.traces(c, r, a)
}

// checkTime refuses a first column that the file itself calls something else
// than time.
func (t *table) checkTime() *ParseError {
	first := t.columns[0]
	switch first.unit {
	case "s", "":
		return nil
	case "Hz":
		return &ParseError{Line: t.line, Found: "a first column in Hz: a spectrum", Expected: "a record over time"}
	}
	return &ParseError{Line: t.line, Found: fmt.Sprintf("a first column in %s", first.unit), Expected: "a time column first"}
}

// checkIndex refuses sample numbers where time should be.
func (t *table) checkIndex(r rows, a axis) *axisError {
	if t.columns[0].unit != "" || a.dt != 1 || r.stamps.last != 0 {
		return nil
	}
	return &axisError{-1, "sample numbers in the first column and no time", "a time column", "export with time"}
}

// checkLength compares the rows with the record length that the preamble
// states. A torn last row counts.
func (t *table) checkLength(c *waveform.Capture, n int, torn bool) {
	stated := statedLength(t.fields, t.point)
	if torn {
		n++
	}
	if stated > 0 && stated != float64(n) {
		c.Warnings = append(c.Warnings, waveform.Warning{Code: waveform.RecordLength,
			Text: fmt.Sprintf("the header states %.0f samples, the file holds %d", stated, n)})
	}
}

// traces makes a trace of each column of samples.
func (t *table) traces(c *waveform.Capture, r rows, a axis) *ParseError {
	held := false
	for k := 1; k < len(t.columns); k++ {
		col := t.columns[k]
		if col.skip {
			if r.varied[k] {
				c.Warnings = append(c.Warnings, waveform.Warning{Code: waveform.ChannelText, Channel: col.name,
					Text: "column " + col.title(k) + " holds words and was left out"})
			}
			continue
		}
		if same, err := t.sameTime(k, r); same || err != nil {
			if err != nil {
				return err
			}
			continue
		}
		over, missing := count(r.y[k])
		if missing == r.n {
			if col.name != "" {
				c.Warnings = append(c.Warnings, waveform.Warning{Code: waveform.ChannelEmpty, Channel: col.name,
					Text: "column " + col.title(k) + " holds no sample and was left out"})
			}
			continue
		}
		held = true
		tr := &waveform.Trace{Name: col.name, Unit: col.unit, T0: a.t0, Dt: a.dt, Y: a.spread(r.y[k])}
		if tr.Name == "" {
			tr.Name = fmt.Sprint(k)
		} else if c.Trace(tr.Name) != nil {
			tr.Name = fmt.Sprintf("%s (column %d)", tr.Name, k+1) // a name stands for one trace
		}
		c.Traces = append(c.Traces, tr)
		c.Warnings = append(c.Warnings, sampleWarnings(tr.Name, over, missing, r.n)...)
	}
	if !held {
		return &ParseError{Found: "no sample in any column", Expected: "at least one column with numbers"}
	}
	t.nameTraces(c)
	return nil
}

// sameTime tells whether column k repeats the time column. A second time
// column that differs is refused: its channel stands on another axis.
func (t *table) sameTime(k int, r rows) (bool, *ParseError) {
	if t.columns[k].unit != "s" && !(t.named && strings.EqualFold(t.columns[k].name, t.columns[0].name)) {
		return false, nil
	}
	for i, v := range r.y[k] {
		if v != r.y[0][i] {
			return false, &ParseError{Line: t.line, Found: "a second time column (" + t.columns[k].title(k) + ") that differs from the first",
				Expected: "one time axis for all channels"}
		}
	}
	return true, nil
}

// sampleWarnings tells of samples that hold no number.
func sampleWarnings(name string, over, missing, n int) []waveform.Warning {
	var w []waveform.Warning
	if over > 0 {
		w = append(w, waveform.Warning{Code: waveform.OverRange, Channel: name,
			Text: fmt.Sprintf("%d of %d samples of %s are over range", over, n, name)})
	}
	if missing > 0 {
		w = append(w, waveform.Warning{Code: waveform.MissingSamples, Channel: name,
			Text: fmt.Sprintf("%d of %d samples of %s are missing", missing, n, name)})
	}
	return w
}

// nameTraces says what the file does not tell of several channels; of a single
// one there is no doubt which it is.
func (t *table) nameTraces(c *waveform.Capture) {
	if len(c.Traces) == 1 {
		t.single(c.Traces[0])
		return
	}
	if t.named {
		return // without units the names still tell what a channel is
	}
	c.Warnings = append(c.Warnings, waveform.Warning{Code: waveform.NoNames, Text: "the file does not name its channels; they are numbered"})
	for _, tr := range c.Traces {
		if tr.Unit != "" {
			return
		}
	}
	c.Warnings = append(c.Warnings, waveform.Warning{Code: waveform.NoUnits, Text: "the file gives no units; samples were taken as printed, time as seconds"})
}

// single completes the trace of a file with one channel from the preamble.
func (t *table) single(tr *waveform.Trace) {
	if base, shift, ok := verticalUnit(t.fields); ok && tr.Unit == "" {
		tr.Unit = base
		scale(tr.Y, shift)
	}
	for _, f := range t.fields {
		if letters(f.Key) == "source" && f.Value != "" && !t.named {
			tr.Name = f.Value
		}
	}
}

// scale multiplies by a power of ten.
func scale(y []float64, shift int) {
	for i := range y {
		if shift < 0 {
			y[i] /= math.Pow10(-shift)
		} else {
			y[i] *= math.Pow10(shift)
		}
	}
}

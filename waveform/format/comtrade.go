package format

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"

	"slewbook/waveform"
)

// comtradeFormat reads IEEE C37.111 (IEC 60255-24) of 1999 and 2013: a
// configuration with its samples beside it (ASCII, BINARY, BINARY32, FLOAT32),
// or both in one file (CFF). Its layout is from memory of the standard.
var comtradeFormat = Format{Name: "COMTRADE record", Recognise: isComtrade, Read: readComtrade}

var (
	comtradeCounts = regexp.MustCompile(`^\s*\d+\s*,\s*\d+\s*A\s*,\s*\d+\s*D\s*$`)
	cffMark        = regexp.MustCompile(`(?im)^---\s*file type:\s*(CFG|INF|HDR|DAT\s*([A-Z0-9]+)?\s*(?::\s*\d+)?)\s*---\s*\r?\n`)
)

func isComtrade(head []byte, _ string) bool {
	if cffMark.Match(head[:min(len(head), 128)]) {
		return true
	}
	l := lines(head, '\n', 2)
	return len(l) == 2 && comtradeCounts.Match(l[1].text)
}

// analog is an analog channel of the configuration.
type analog struct {
	name, unit string
	a, b, skew float64 // value = a·code + b, the skew in microseconds
}

// comtrade is the configuration.
type comtrade struct {
	channels []analog
	digital  int
	rate     float64 // [Hz], 0 where the stamps hold
	samples  int
	encoding string
	timeMult float64
	tick     float64 // of the stamps [s]
	fields   []field
}

func readComtrade(in Input) ([]*waveform.Capture, error) {
	b, err := in.bytes()
	if err != nil {
		return nil, err
	}
	cfg, dat := b, []byte(nil)
	if parts := cffParts(b); parts != nil {
		cfg, dat = parts["CFG"], parts["DAT"]
	} else if in.sibling == nil {
		return nil, in.fault("a COMTRADE configuration without its samples", "the .dat file beside it", "")
	} else {
		d, err := in.sibling(".dat")
		if err != nil {
			return nil, in.fault("a COMTRADE configuration without its samples: "+err.Error(), "the .dat file beside it", "")
		}
		if dat, err = d.bytes(); err != nil {
			return nil, err
		}
	}
	r, line, err := parseComtrade(cfg)
	if err != nil {
		return nil, &ParseError{File: in.Name, Line: line, Offset: -1, Found: err.Error(), Expected: "a configuration as IEEE C37.111 has it"}
	}
	c := &waveform.Capture{Segments: 1, Layout: "COMTRADE record, " + r.encoding, Header: header(r.fields)}
	t, y, err := r.rows(dat)
	if err != nil {
		return nil, in.fault("samples: "+err.Error(), "rows as the configuration states them", "copy the files again")
	}
	if len(t) != r.samples && r.samples > 0 {
		c.Warnings = append(c.Warnings, waveform.Warning{Code: waveform.RecordLength, Text: fmt.Sprintf("the configuration states %d samples, the file holds %d", r.samples, len(t))})
	}
	a, perr := r.axis(in, t)
	if perr != nil {
		return nil, perr
	}
	c.Warnings = append(c.Warnings, a.warnings...)
	for k, ch := range r.channels {
		for i, code := range y[k] {
			y[k][i] = ch.a*code + ch.b
		}
		n := len(c.Traces)
		if addVector(c, vector{name: ch.name, unit: ch.unit, y: y[k]}, a); len(c.Traces) == n {
			continue
		}
		tr := c.Traces[n]
		if ch.skew != 0 {
			tr.T0 += ch.skew * 1e-6
			tr.Steps = append(tr.Steps, waveform.Step{Kind: "delay", Value: -ch.skew * 1e-6, Unit: "s", Text: fmt.Sprintf("sampled %g µs after the stamp, as the configuration states", ch.skew)})
		}
	}
	if err := c.Check(); err != nil {
		return nil, in.fault(err.Error(), "", "")
	}
	return []*waveform.Capture{c}, nil
}

// cffParts cuts a file that holds all parts, nil if it is none. The samples run
// to the end of the file.
func cffParts(b []byte) map[string][]byte {
	marks := cffMark.FindAllSubmatchIndex(b[:min(len(b), headSize)], -1)
	if marks == nil || marks[0][0] > 64 {
		return nil
	}
	parts := map[string][]byte{}
	for i, m := range marks {
		end := len(b)
		if i+1 < len(marks) {
			end = marks[i+1][0]
		}
		kind := strings.ToUpper(string(b[m[2]:m[3]]))[:3]
		parts[kind] = b[m[1]:end]
		if kind == "DAT" {
			parts[kind] = b[m[1]:]
			break
		}
	}
	return parts
}

// parseComtrade reads the configuration; line is where an error stands.
func parseComtrade(cfg []byte) (r comtrade, line int, err error) {
	ls := lines(bytes.TrimRight(cfg, "\x1a\x00 \r\n"), '\n', 1<<16)
	at := 0
	next := func() []string {
		if at >= len(ls) {
			err = fmt.Errorf("the configuration ends too early")
			return nil
		}
		at++
		cells := split(ls[at-1].text, ',')
		return cells
	}
	num := func(cells []string, k int) float64 {
		if k >= len(cells) {
			err = fmt.Errorf("%d fields", len(cells))
			return 0
		}
		v, e := strconv.ParseFloat(strings.TrimSpace(cells[k]), 64)
		if e != nil || math.IsNaN(v) || math.IsInf(v, 0) {
			err = fmt.Errorf("%q where a number should stand", cells[k])
		}
		return v
	}
	station := next()
	counts := next()
	if err != nil || len(counts) != 3 {
		return r, at, fmt.Errorf("no count of channels")
	}
	r.fields = append(r.fields, field{key: "station", values: station})
	analogs, _ := strconv.Atoi(strings.TrimRight(strings.TrimSpace(counts[1]), "Aa "))
	r.digital, _ = strconv.Atoi(strings.TrimRight(strings.TrimSpace(counts[2]), "Dd "))
	if analogs < 0 || analogs > 1<<16 || r.digital < 0 || r.digital > 1<<16 {
		return r, at, fmt.Errorf("%d analog and %d status channels", analogs, r.digital)
	}
	for range analogs {
		f := next()
		if err == nil && len(f) < 10 {
			err = fmt.Errorf("an analog channel of %d fields", len(f))
		}
		if err != nil {
			return r, at, err
		}
		r.channels = append(r.channels, analog{name: f[1], unit: f[4], a: num(f, 5), b: num(f, 6)})
		if f[7] != "" {
			r.channels[len(r.channels)-1].skew = num(f, 7)
		}
		if err != nil {
			return r, at, err
		}
	}
	for range r.digital {
		next()
	}
	r.fields = append(r.fields, field{key: "line frequency", values: next()})
	rates := int(num(next(), 0))
	if err != nil || rates < 0 || rates > 1 {
		return r, at, fmt.Errorf("%d sample rates; only records of one rate can be measured", rates)
	}
	f := next() // a record without a rate has one line all the same
	if err == nil {
		r.rate, r.samples = num(f, 0), int(num(f, 1))
	}
	if rates == 0 {
		r.rate = 0
	}
	start, trigger := next(), next()
	encoding := next()
	if err != nil {
		return r, at, err
	}
	r.fields = append(r.fields, field{key: "start", values: start}, field{key: "trigger", values: trigger})
	r.encoding = strings.ToUpper(strings.TrimSpace(encoding[0]))
	r.timeMult = 1
	if at < len(ls) {
		if v, e := strconv.ParseFloat(strings.TrimSpace(string(bytes.TrimSpace(ls[at].text))), 64); e == nil && v > 0 && !math.IsInf(v, 0) {
			r.timeMult = v
		}
	}
	// Stamps count microseconds, or nanoseconds where the dates have nine decimals.
	r.tick = 1e-6
	if last := start[len(start)-1]; len(last)-strings.LastIndexByte(last, '.')-1 == 9 && strings.Contains(last, ".") {
		r.tick = 1e-9
	}
	return r, at, nil
}

// axis is that of the sample rate, or of the stamps where there is none.
func (r comtrade) axis(in Input, t []float64) (axis, error) {
	unit := r.tick * r.timeMult
	if r.rate > 0 {
		return axis{dt: 1 / r.rate}, nil
	}
	stamps := make([]float64, len(t))
	for k := range t {
		stamps[k] = (t[k] - t[0]) * unit
	}
	// A stamp counts whole ticks.
	p := precision{last: int(math.Round(math.Log10(unit))), mant: 1 << 60}
	a, err := newAxis(stamps, p, math.NaN())
	if err != nil {
		return axis{}, in.fault(err.found, err.expected, err.do)
	}
	return a, nil
}

// rows reads stamps and codes.
func (r comtrade) rows(dat []byte) (t []float64, y [][]float64, err error) {
	y = make([][]float64, len(r.channels))
	if r.encoding == "ASCII" {
		return r.asciiRows(dat, y)
	}
	kinds := map[string]struct {
		kind    string
		size    int
		missing float64
	}{"BINARY": {"i", 2, -32768}, "BINARY32": {"i", 4, -2147483648}, "FLOAT32": {"f", 4, -math.MaxFloat32}}
	k, ok := kinds[r.encoding]
	if !ok {
		return nil, nil, fmt.Errorf("encoding %q", r.encoding)
	}
	get := numberGetter(k.kind, k.size, false)
	size := 8 + k.size*len(r.channels) + 2*((r.digital+15)/16)
	n := len(dat) / size
	if rest := len(bytes.Trim(dat[n*size:], "\x1a\r\n\x00")); rest > 0 || n == 0 {
		return nil, nil, fmt.Errorf("%d bytes, no whole number of rows of %d bytes", len(dat), size)
	}
	for i := range n {
		row := dat[i*size:]
		if no := binary.LittleEndian.Uint32(row); i > 0 && no != binary.LittleEndian.Uint32(dat)+uint32(i) {
			return nil, nil, fmt.Errorf("row %d is numbered %d", i+1, no)
		}
		t = append(t, float64(binary.LittleEndian.Uint32(row[4:])))
		for c := range y {
			v := get(row[8+c*k.size:])
			if v == k.missing {
				v = math.NaN()
			}
			y[c] = append(y[c], v)
		}
	}
	return t, y, nil
}

func (r comtrade) asciiRows(dat []byte, y [][]float64) ([]float64, [][]float64, error) {
	var t []float64
	dat = bytes.TrimRight(dat, "\x1a\x00 \r\n")
	for pos, no := 0, 1; pos < len(dat); no++ {
		l, next := nextLine(dat, pos, '\n')
		pos = next
		cells := split(l, ',')
		if len(cells) != 2+len(y)+r.digital {
			return nil, nil, fmt.Errorf("line %d has %d fields, not %d", no, len(cells), 2+len(y)+r.digital)
		}
		stamp, err := strconv.ParseFloat(cells[1], 64)
		if err != nil && (cells[1] != "" || r.rate == 0) {
			return nil, nil, fmt.Errorf("line %d has the time stamp %q", no, cells[1])
		}
		t = append(t, stamp)
		for c := range y {
			v, err := strconv.ParseFloat(cells[2+c], 64)
			if cells[2+c] == "" || cells[2+c] == "99999" {
				v, err = math.NaN(), nil
			}
			if err != nil {
				return nil, nil, fmt.Errorf("line %d has the value %q", no, cells[2+c])
			}
			y[c] = append(y[c], v)
		}
	}
	return t, y, nil
}

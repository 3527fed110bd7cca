package format

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"math"
	"strconv"
	"strings"

	"slewbook/waveform"
)

// spiceFormat reads the raw file of SPICE3 (its layout from the ngspice manual,
// from memory): a transient analysis in ASCII or binary.
var spiceFormat = Format{Name: "SPICE3 raw file", Recognise: isSpice, Read: readSpice}

func isSpice(head []byte, _ string) bool {
	return bytes.HasPrefix(head, []byte("Title:")) && bytes.Contains(head, []byte("\nNo. Variables:")) && bytes.Contains(head, []byte("\nNo. Points:"))
}

// spiceHead is the head of a plot.
type spiceHead struct {
	fields    []field
	plot      string
	complex   bool
	variables []vector
	points    int
	binary    bool
}

// readSpice reads the transient analyses of the file, each a capture; plots of
// other kinds beside them are passed over.
func readSpice(in Input) ([]*waveform.Capture, error) {
	rest, err := in.bytes()
	if err != nil {
		return nil, err
	}
	var all []*waveform.Capture
	other := ""
	for isSpice(rest[:min(len(rest), headSize)], "") {
		var h spiceHead
		if h, rest, err = parseSpiceHead(rest); err != nil {
			return nil, in.fault(err.Error(), "a raw file of a transient analysis", "")
		}
		got := 0
		if got, rest, err = h.read(rest); err != nil {
			return nil, in.fault(err.Error(), "a value for each variable", "")
		}
		if h.complex || !strings.EqualFold(h.variables[0].name, "time") {
			other = fmt.Sprintf("a plot over %s (%s)", h.variables[0].name, h.plot)
			continue
		}
		c, err := h.capture(in, got)
		if err != nil {
			return nil, err
		}
		all = append(all, c)
	}
	if len(all) == 0 {
		perr := in.fault(other+": no record over time", "a transient analysis", "")
		perr.not = "no transient analysis"
		return nil, perr
	}
	for _, c := range all {
		c.Segments = len(all)
	}
	if k, err := sameChannels(all); err != nil {
		return nil, in.fault(fmt.Sprintf("analysis %d: %s", k+1, err.Found), err.Expected, err.Do)
	}
	return all, nil
}

// capture makes a capture of the got points of a transient analysis.
func (h *spiceHead) capture(in Input, got int) (*waveform.Capture, error) {
	if got < 2 {
		return nil, in.fault(fmt.Sprintf("%d points of %d", got, h.points), "at least two", "run the simulation again")
	}
	c := &waveform.Capture{Layout: "SPICE3 raw file, ASCII", Header: header(h.fields)}
	if h.binary {
		c.Layout = "SPICE3 raw file, binary"
	}
	if got < h.points {
		c.Warnings = append(c.Warnings, waveform.Warning{Code: waveform.RecordLength, Text: fmt.Sprintf("the header states %d points, the file holds %d whole ones", h.points, got)})
	}
	for k := range h.variables {
		h.variables[k].y = h.variables[k].y[:got]
	}
	if err := evenGrid(h.variables, c); err != nil {
		return nil, in.fault(err.Error(), "time that grows", "")
	}
	t := h.variables[0].y
	a := axis{t0: t[0], dt: (t[len(t)-1] - t[0]) / float64(len(t)-1)}
	for _, v := range h.variables[1:] {
		addVector(c, v, a)
	}
	if err := c.Check(); err != nil {
		return nil, in.fault(err.Error(), "", "")
	}
	return c, nil
}

// read reads the values of a plot; it returns the number of whole points and
// what follows.
func (h *spiceHead) read(b []byte) (got int, rest []byte, err error) {
	if h.binary {
		size := 8 * len(h.variables)
		if h.complex {
			size *= 2
		}
		got = min(h.points, len(b)/size)
		if !h.complex {
			h.readBinary(b, got)
		}
		return got, b[got*size:], nil
	}
	end := len(b)
	if i := bytes.Index(b, []byte("\nTitle:")); i >= 0 {
		end = i + 1
	}
	if !h.complex {
		got, err = h.readASCII(b[:end])
	}
	return got, b[end:], err
}

// parseSpiceHead reads the head of the first plot and returns what follows.
func parseSpiceHead(b []byte) (h spiceHead, rest []byte, err error) {
	declared := 0
	for pos := 0; pos < len(b); {
		l, next := nextLine(b, pos, '\n')
		pos = next
		key, value, _ := strings.Cut(utf8String(l), ":")
		value = strings.TrimSpace(value)
		switch strings.ToLower(strings.TrimSpace(key)) {
		case "plotname":
			h.plot = value
		case "flags":
			h.complex = strings.Contains(strings.ToLower(value), "complex")
		case "no. variables":
			declared, _ = strconv.Atoi(value)
		case "no. points":
			h.points, _ = strconv.Atoi(strings.Fields(value + " 0")[0])
		case "variables":
			if pos, err = h.parseVariables(b, pos, value, declared); err != nil {
				return h, nil, err
			}
			continue
		case "values", "binary":
			h.binary = strings.EqualFold(strings.TrimSpace(key), "binary")
			if len(h.variables) < 2 || h.points < 0 {
				return h, nil, fmt.Errorf("a raw file of %d variables and %d points", len(h.variables), h.points)
			}
			return h, b[pos:], nil
		}
		h.fields = append(h.fields, field{key: key, values: []string{value}})
	}
	return h, nil, fmt.Errorf("a raw file without values")
}

// parseVariables reads "0 time time" and so on; the first may stand on the line
// of the key.
func (h *spiceHead) parseVariables(b []byte, pos int, first string, n int) (int, error) {
	if n < 1 || n > 1<<16 {
		return 0, fmt.Errorf("a raw file of %d variables", n)
	}
	for len(h.variables) < n {
		text := first
		if first == "" {
			if pos >= len(b) {
				return 0, fmt.Errorf("a raw file that ends in its list of variables")
			}
			l, next := nextLine(b, pos, '\n')
			pos, text = next, utf8String(l)
		}
		first = ""
		f := strings.Fields(text)
		if len(f) < 3 {
			return 0, fmt.Errorf("a raw file with the variable %s", quote([]byte(text)))
		}
		units := map[string]string{"voltage": "V", "current": "A", "time": "s", "power": "W", "charge": "C"}
		h.variables = append(h.variables, vector{name: f[1], unit: units[strings.ToLower(f[2])]})
	}
	return pos, nil
}

// readASCII reads "0 <tab> value", then a value a line; it returns the number of
// whole points.
func (h *spiceHead) readASCII(b []byte) (int, error) {
	n := len(h.variables)
	words := bytes.Fields(b)
	for at := 0; ; at++ {
		point := at / (n + 1)
		if point == h.points || at == len(words) {
			return point, nil
		}
		k := at%(n+1) - 1
		if k < 0 {
			if no, err := strconv.Atoi(string(words[at])); err != nil || no != point {
				return 0, fmt.Errorf("%s where point %d should start", quote(words[at]), point)
			}
			continue
		}
		v, err := strconv.ParseFloat(string(words[at]), 64)
		if err != nil {
			return 0, fmt.Errorf("%s as the value of %s in point %d", quote(words[at]), h.variables[k].name, point)
		}
		h.variables[k].y = append(h.variables[k].y, v)
	}
}

// readBinary reads the points as 64-bit floats in the order of this machine's
// kind, little-endian.
func (h *spiceHead) readBinary(b []byte, got int) {
	n := len(h.variables)
	for k := range h.variables {
		y := make([]float64, got)
		for i := range y {
			y[i] = math.Float64frombits(binary.LittleEndian.Uint64(b[8*(i*n+k):]))
		}
		h.variables[k].y = y
	}
}

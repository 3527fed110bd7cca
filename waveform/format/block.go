package format

import (
	"bytes"
	"fmt"
	"math"
	"strconv"
	"strings"

	"slewbook/waveform"
)

// blockFormat reads a definite-length arbitrary block of IEEE 488.2
// (#<digits><length><bytes>) behind its preamble in ASCII.
var blockFormat = Format{Name: "IEEE 488.2 block", Recognise: isBlock, Read: readBlock}

func isBlock(head []byte, _ string) bool {
	_, _, ok := findBlockHead(head[:min(len(head), 16<<10)])
	return ok && !isText(head, "")
}

// findBlockHead returns where the bytes of the block start and how many it
// states. What stands before must be printable.
func findBlockHead(head []byte) (at, length int, ok bool) {
	for i, c := range head {
		if c == '#' && i+2 < len(head) && head[i+1] >= '1' && head[i+1] <= '9' {
			n := int(head[i+1] - '0')
			if i+2+n <= len(head) {
				if length, err := strconv.Atoi(string(head[i+2 : i+2+n])); err == nil && length > 1 && (i > 0 || n > 1) {
					return i + 2 + n, length, true
				}
			}
		}
		if (c < ' ' && c != '\n' && c != '\r' && c != '\t') || c > '~' {
			break
		}
	}
	return 0, 0, false
}

func readBlock(in Input) ([]*waveform.Capture, error) {
	b, err := in.bytes()
	if err != nil {
		return nil, err
	}
	at, length, ok := findBlockHead(b[:min(len(b), 16<<10)])
	if !ok {
		return nil, in.fault("no head of a block in it", "# and the number of its bytes", "")
	}
	p := blockFields(string(b[:bytes.LastIndexByte(b[:at], '#')]))
	data := b[at:]
	c := &waveform.Capture{Segments: 1, Layout: "IEEE 488.2 block", Header: header(p)}
	if len(data) < length {
		return nil, in.fault(fmt.Sprintf("a block of %d bytes that is cut short after %d", length, len(data)), "all of it", "read it from the instrument again")
	}
	if rest := len(bytes.Trim(data[length:], "\r\n;\x00")); rest > 0 {
		c.Warnings = append(c.Warnings, waveform.Warning{Code: waveform.TrailingBytes, Text: fmt.Sprintf("%d bytes behind the block", rest)})
	}
	kind, size, big, err := blockKind(p)
	if err != nil {
		return nil, in.fault(err.Error(), "a preamble that says how the samples are coded", "")
	}
	if length%size != 0 {
		return nil, in.fault(fmt.Sprintf("a block of %d bytes, no whole number of samples of %d bytes", length, size), "whole samples", "")
	}
	mult, off, zero := number488(p, meansMultiplier, math.NaN()), number488(p, meansCodeOffset, 0), number488(p, meansZero, 0)
	d := dialect{point: '.'}
	dt := d.interval(p)
	if math.IsNaN(mult) || math.IsNaN(dt) {
		return nil, in.fault("a block whose preamble gives no multiplier or no interval", "XINCR and YMULT or the like", "read the preamble with the samples")
	}
	get := numberGetter(kind, size, big)
	y := make([]float64, length/size)
	for k := range y {
		y[k] = zero + mult*(get(data[k*size:])-off)
	}
	name, unitName := "1", ""
	for _, f := range p {
		switch l := letters(f.key); {
		case containsWord("name wfid source channel", l) && len(f.values) > 0:
			name, _, _ = strings.Cut(f.values[0], ",")
		case containsWord("yunit yunits verticalunits unit", l) && len(f.values) > 0:
			unitName = f.values[0]
		}
	}
	stated := number488(p, meansLength, float64(len(y)))
	if stated != float64(len(y)) {
		c.Warnings = append(c.Warnings, waveform.Warning{Code: waveform.RecordLength, Text: fmt.Sprintf("the preamble states %.0f samples, the block holds %d", stated, len(y))})
	}
	addVector(c, vector{name: name, unit: unitName, y: y}, axis{t0: d.origin(p, dt), dt: dt})
	if err := c.Check(); err != nil {
		return nil, in.fault(err.Error(), "", "")
	}
	return []*waveform.Capture{c}, nil
}

// blockFields cuts "WAVE:BYTES 2;NAME \"CH1, 1 V\";..." into fields.
func blockFields(s string) []field {
	var fields []field
	for _, part := range strings.FieldsFunc(s, func(r rune) bool { return r == ';' || r == '\n' || r == '\r' }) {
		key, value, _ := strings.Cut(strings.TrimSpace(part), " ")
		key = key[strings.LastIndexByte(key, ':')+1:]
		if value = strings.Trim(strings.TrimSpace(value), "\""); key != "" && value != "" {
			fields = append(fields, field{key: strings.ReplaceAll(key, "_", ""), values: []string{value}})
		}
	}
	return fields
}

// number488 returns the number of that meaning.
func number488(fields []field, m meant, otherwise float64) float64 {
	if f, ok := find(fields, m); ok {
		if v, ok := (dialect{point: '.'}).stated(f, ""); ok {
			return v
		}
	}
	return otherwise
}

// blockKind returns how the samples are coded.
func blockKind(fields []field) (kind string, size int, big bool, err error) {
	kind, size, big = "i", 0, true // the block's own order is the most significant byte first
	for _, f := range fields {
		value := strings.ToUpper(f.values[0])
		switch letters(f.key) {
		case "bytes", "bytnr", "bytespersample", "byteswidth", "width":
			size, _ = strconv.Atoi(value)
		case "bits", "bitnr":
			if bits, _ := strconv.Atoi(value); size == 0 {
				size = (bits + 7) / 8
			}
		case "type", "bnfmt", "sign", "signed":
			switch value {
			case "UNSIGNED", "RP", "UINT":
				kind = "u"
			case "FLOAT", "FP", "REAL":
				kind = "f"
			}
		case "order", "bytor", "byteorder":
			big = !strings.HasPrefix(value, "LSB") && !strings.HasPrefix(value, "LITTLE")
		case "format", "encdg", "encoding":
			if strings.HasPrefix(value, "ASC") {
				return "", 0, false, fmt.Errorf("a block that says it holds text")
			}
		}
	}
	if numberGetter(kind, size, big) == nil {
		return "", 0, false, fmt.Errorf("samples of %d bytes", size)
	}
	return kind, size, big, nil
}

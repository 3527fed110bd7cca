package format

import (
	"bytes"
	"fmt"
	"strings"

	"slewbook/waveform"
)

// attribute is a number or words that a group or dataset carries.
type attribute struct {
	key, text string
	number    float64
	isNumber  bool
}

// attributes returns the attributes among the messages, and those that stand in
// a heap.
func (h *hdf5) attributes(ms []message) []attribute {
	var all []attribute
	for _, m := range ms {
		switch m.kind {
		case 0x0c:
			all = append(all, h.attribute(m.data))
		case 0x15:
			skip := 2
			if len(m.data) > 1 && m.data[1]&1 != 0 {
				skip += 2
			}
			h.dense(h.uint(m.data, skip, 8), h.uint(m.data, skip+8, 8), func(b []byte) { all = append(all, h.attribute(b)) })
		}
	}
	return all
}

// attribute reads an attribute of one number, or of words of fixed or variable
// length.
func (h *hdf5) attribute(b []byte) (a attribute) {
	if len(b) < 8 {
		return a
	}
	name, kind, space := int(h.uint(b, 2, 2)), int(h.uint(b, 4, 2)), int(h.uint(b, 6, 2))
	at, pad := 8, 1
	switch b[0] {
	case 1:
		pad = 8
	case 3:
		at = 9
	}
	round := func(n int) int { return (n + pad - 1) / pad * pad }
	if at+round(name)+round(kind)+round(space) > len(b) || kind < 8 {
		return a
	}
	a.key = string(bytes.TrimRight(b[at:at+name], "\x00"))
	t := b[at+round(name):]
	dims, _ := h.dims(b[at+round(name)+round(kind):][:space])
	data := b[at+round(name)+round(kind)+round(space):]
	kindOf, size, big := h.datatype(t)
	switch class := t[0] & 15; {
	case class == 3:
		a.text = string(bytes.Trim(data[:min(size, len(data))], "\x00 "))
	case class == 9 && len(data) >= 16:
		a.text = h.heapString(h.uint(data, 0, 4), h.uint(data, 4, 8), h.uint(data, 12, 4))
	case len(dims) == 1 && dims[0] == 1 && len(data) >= size:
		if get := numberGetter(kindOf, size, big); get != nil {
			a.number, a.isNumber = get(data), true
		}
	}
	return a
}

// heapString reads n bytes of an object in a global heap.
func (h *hdf5) heapString(n, at, index uint64) string {
	head := h.bytes(at, 16)
	if head == nil || string(head[:4]) != "GCOL" {
		return ""
	}
	b := h.bytes(at, h.uint(head, 8, 8))
	for k := 16; k+16 <= len(b); {
		size := h.uint(b, k+8, 8)
		if size > uint64(len(b)-k-16) {
			return ""
		}
		if h.uint(b, k, 2) == index {
			return string(bytes.TrimRight(b[k+16:k+16+int(min(n, size))], "\x00"))
		}
		k += 16 + int((size+7)/8*8)
	}
	return ""
}

// describe takes unit, interval, start and scale of a vector from the
// attributes of its dataset. Whole numbers with a scale are converter codes;
// scale_factor and add_offset are those of the CF metadata conventions
// (value = code·scale_factor + add_offset; from memory).
func (v *vector) describe(attrs []attribute, kind string) error {
	scale, zero, codes := 1.0, 0.0, kind == "i" || kind == "u"
	scaled, doubt := false, ""
	for _, a := range attrs {
		m, _ := meaning(a.key)
		word := letters(a.key)
		switch {
		case m == meansUnits:
			v.unit = a.text
		case !a.isNumber:
		case m == meansInterval && a.number > 0:
			v.dt = a.number
		case m == meansRate && a.number > 0:
			v.dt = 1 / a.number
		case m == meansStart:
			v.t0 = a.number
		case word == "scalefactor", codes && (m == meansMultiplier || containsWord("scale gain slope", word)):
			scale, scaled = a.number, true
		case word == "addoffset" || codes && m == meansZero:
			zero, scaled = a.number, true
		case codes && a.number != 0 && (m == meansCodeOffset || word == "offset"):
			doubt = a.key
		}
	}
	if !scaled {
		return nil
	}
	if doubt != "" {
		return fmt.Errorf("has codes in %s with a scale and %q, which may be meant in codes or in units", v.name, doubt)
	}
	for k, y := range v.y {
		v.y[k] = y*scale + zero
	}
	v.steps = append(v.steps, waveform.Step{Kind: "scale", Value: scale, Unit: strings.TrimSpace(v.unit), Text: fmt.Sprintf("converter codes: code × %g + %g", scale, zero)})
	return nil
}

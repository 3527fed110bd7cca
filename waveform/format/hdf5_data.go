package format

import (
	"fmt"
	"slices"
)

// hdf5Data is what the messages of a dataset say of it.
type hdf5Data struct {
	dims    []uint64
	most    []uint64 // what the dims may grow to, 1<<64-1 for no bound
	kind    string   // as for numberGetter
	size    int
	big     bool
	members []recordMember // of a record
	layout  []byte
	filters []uint64 // in the order of writing
}

// dataset reads a dataset of numbers or of records with numbers; others are
// passed over.
func (h *hdf5) dataset(ms []message, name string, at uint64) {
	var d hdf5Data
	for _, m := range ms {
		switch m.kind {
		case 0x01:
			d.dims, d.most = h.dims(m.data)
		case 0x03:
			d.kind, d.size, d.big = h.datatype(m.data)
			if d.members, d.size = h.members(m.data, d.size); d.members != nil {
				d.kind = "record"
			}
		case 0x08:
			d.layout = m.data
		case 0x0b:
			d.filters = h.filters(m.data)
		}
	}
	attrs := h.attributes(ms)
	if len(d.dims) == 0 || len(d.dims) > 2 || d.kind == "" || isWords(attrs) || h.err != nil {
		return
	}
	raw := h.raw(d)
	if raw == nil {
		return
	}
	vs, err := d.vectors(raw, name)
	for k := range vs {
		if err == nil {
			err = vs[k].describe(attrs, d.kind)
		}
		h.found = append(h.found, placed{vs[k], at})
	}
	if err != nil {
		h.fail("%s", err)
	}
}

// isWords tells whether a dataset of whole numbers stands for something else,
// by the attribute that MAT-files of version 7.3 give it.
func isWords(attrs []attribute) bool {
	return slices.ContainsFunc(attrs, func(a attribute) bool {
		return a.key == "MATLAB_empty" && a.number != 0 ||
			a.key == "MATLAB_class" && !slices.Contains([]string{"double", "single", "int8", "uint8", "int16", "uint16", "int32", "uint32", "int64", "uint64", "logical"}, a.text)
	})
}

// vectors returns the series of a dataset.
func (d hdf5Data) vectors(raw []byte, name string) ([]vector, error) {
	if d.members != nil {
		if len(d.dims) > 1 {
			return nil, fmt.Errorf("has records in %d dimensions", len(d.dims))
		}
		vs := fromRecords(raw, d.size, int(d.dims[0]), d.members)
		for k := range vs {
			vs[k].group = name
		}
		return vs, nil
	}
	get := numberGetter(d.kind, d.size, d.big)
	if get == nil {
		return nil, nil
	}
	a := array{rows: int(d.dims[0]), columns: 1, flat: len(d.dims) == 1, y: make([]float64, len(raw)/d.size), single: d.kind == "f" && d.size < 8}
	if len(d.dims) == 2 {
		a.columns = int(d.dims[1])
	}
	for k := range a.y {
		a.y[k] = get(raw[k*d.size:])
	}
	return a.inGroup(name), nil
}

// dims reads a dataspace; a scalar has one element.
func (h *hdf5) dims(b []byte) (dims, most []uint64) {
	const null = 2
	if len(b) < 4 || b[0] == 2 && b[3] == null {
		return nil, nil
	}
	at := 8
	if b[0] == 2 {
		at = 4
	}
	n := int(b[1])
	for k := range n {
		dims = append(dims, h.uint(b, at+8*k, 8))
	}
	most = dims
	if b[2]&1 != 0 {
		most = nil
		for k := range n {
			most = append(most, h.uint(b, at+8*(n+k), 8))
		}
	}
	if n == 0 {
		return []uint64{1}, []uint64{1}
	}
	return dims, most
}

// datatype reads an integer or floating-point type; kind is "" for others.
func (h *hdf5) datatype(b []byte) (kind string, size int, big bool) {
	if len(b) < 8 {
		return "", 0, false
	}
	size, big = int(h.uint(b, 4, 4)), b[1]&1 != 0
	switch b[0] & 15 {
	case 0:
		if kind = "u"; b[1]&8 != 0 {
			kind = "i"
		}
	case 1:
		kind = "f"
	}
	return kind, size, big
}

// members reads the members of a record type, nil for another; size is that of
// the type, as before.
func (h *hdf5) members(b []byte, size int) ([]recordMember, int) {
	const record = 6
	if len(b) < 8 || b[0]&15 != record || size <= 0 || size > 1<<20 {
		return nil, size
	}
	version, n := b[0]>>4, int(h.uint(b, 1, 2))
	rest := b[8:]
	ms := []recordMember{}
	for range n {
		end := slices.Index(rest, 0)
		if end < 0 || h.err != nil {
			h.fail("is damaged: a record type without names")
			return nil, size
		}
		m := recordMember{name: string(rest[:end])}
		at := end + 1
		if version < 3 {
			at = (end + 8) / 8 * 8
		}
		wide := 4
		if version >= 3 {
			wide = 1
			for size>>(8*wide) > 0 {
				wide++
			}
		}
		m.offset = int(h.uint(rest, at, wide))
		if at += wide; version == 1 {
			at += 28 // dimensions
		}
		if at > len(rest) {
			h.fail("is damaged: a record type that is cut short")
			return nil, size
		}
		m.kind, m.size, m.big = h.datatype(rest[at:])
		length := typeLength(rest[at:])
		if length == 0 || at+length > len(rest) {
			h.fail("has records that hold more than numbers and words")
			return nil, size
		}
		rest = rest[at+length:]
		ms = append(ms, m)
	}
	return ms, size
}

// typeLength returns the bytes of a type message that has no parts, 0 for
// another.
func typeLength(b []byte) int {
	if len(b) < 8 {
		return 0
	}
	switch b[0] & 15 {
	case 0, 4: // integer, bits
		return 12
	case 1: // floating point
		return 20
	case 3, 7: // words, reference
		return 8
	}
	return 0
}

// filters reads the pipeline.
func (h *hdf5) filters(b []byte) []uint64 {
	if len(b) < 2 {
		return nil
	}
	older, at := b[0] == 1, 2
	if older {
		at = 8
	}
	var ids []uint64
	for range int(b[1]) {
		id := h.uint(b, at, 2)
		at += 2
		name := 0
		if older || id >= 256 {
			name = int(h.uint(b, at, 2))
			at += 2
		}
		values := int(h.uint(b, at+2, 2))
		at += 4 + name + 4*values
		if older {
			at += (8-name%8)%8 + 4*(values%2)
		}
		ids = append(ids, id)
	}
	return ids
}

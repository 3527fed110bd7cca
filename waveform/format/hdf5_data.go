package format

import (
	"bytes"
	"compress/zlib"
)

// hdf5Data is what the messages of a dataset say of it.
type hdf5Data struct {
	dims    []uint64
	kind    string // as for numberGetter
	size    int
	big     bool
	layout  []byte
	filters []uint64 // in the order of writing
}

// Filters of the pipeline.
const (
	filterDeflate  = 1
	filterShuffle  = 2
	filterChecksum = 3
)

// dims reads a dataspace.
func (h *hdf5) dims(b []byte) []uint64 {
	if len(b) < 4 {
		return nil
	}
	at := 8
	if b[0] == 2 {
		at = 4
	}
	var dims []uint64
	for k := range int(b[1]) {
		dims = append(dims, h.uint(b, at+8*k, 8))
	}
	return dims
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

// attribute reads an attribute that holds words, of fixed or variable length.
func (h *hdf5) attribute(b []byte) (key, value string) {
	if len(b) < 8 {
		return "", ""
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
		return "", ""
	}
	key = string(bytes.TrimRight(b[at:at+name], "\x00"))
	t := b[at+round(name):]
	data := b[at+round(name)+round(kind)+round(space):]
	switch class := t[0] & 15; {
	case class == 3:
		n := min(h.uint(t, 4, 4), uint64(len(data)))
		return key, string(bytes.Trim(data[:n], "\x00 "))
	case class == 9 && len(data) >= 16:
		return key, h.heapString(h.uint(data, 0, 4), h.uint(data, 4, 8), h.uint(data, 12, 4))
	}
	return key, ""
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

// raw returns the bytes of the dataset, row by row, nil if they could not be
// had. A chunk packs no more than maxRatio times its size, so that dimensions
// that lie allocate nothing.
func (h *hdf5) raw(d hdf5Data) []byte {
	total := uint64(d.size)
	for _, n := range d.dims {
		if n == 0 || n > 1<<40/total {
			return nil
		}
		total *= n
	}
	if len(d.layout) < 2 {
		return nil
	}
	if total > uint64(len(h.b))*maxRatio {
		h.fail("has a dataset of %d bytes in a file of %d", total, len(h.b))
		return nil
	}
	switch version, class := d.layout[0], d.layout[1]; {
	case version != 3 && version != 4:
		h.fail("has a data layout of version %d", version)
	case class == 0:
		if n := h.uint(d.layout, 2, 2); n >= total && uint64(len(d.layout)) >= 4+total {
			return d.layout[4 : 4+total]
		}
		h.fail("is damaged: a compact dataset that is cut short")
	case class == 1:
		return h.bytes(h.uint(d.layout, 2, 8), total)
	case class == 2 && version == 3:
		return h.chunked(d, total)
	default:
		h.fail("has a chunk index of a newer kind")
	}
	return nil
}

// chunked puts the chunks of a dataset together.
func (h *hdf5) chunked(d hdf5Data, total uint64) []byte {
	rank := len(d.dims)
	if int(h.uint(d.layout, 2, 1)) != rank+1 {
		h.fail("is damaged: chunks of another rank than their dataset")
		return nil
	}
	tree := h.uint(d.layout, 3, 8)
	chunk := make([]uint64, rank)
	size := uint64(d.size)
	for k := range chunk {
		chunk[k] = h.uint(d.layout, 11+4*k, 4)
		if chunk[k] == 0 || size > 1<<31/chunk[k] {
			h.fail("is damaged: chunks of %d samples", chunk[k])
			return nil
		}
		size *= chunk[k]
	}
	out := make([]byte, total)
	h.chunks(d, tree, chunk, size, out, 0)
	if h.err != nil {
		return nil
	}
	return out
}

// chunks walks the tree of chunks.
func (h *hdf5) chunks(d hdf5Data, tree uint64, chunk []uint64, size uint64, out []byte, level int) {
	head := h.bytes(tree, 24)
	if head == nil || level > 16 || h.err != nil {
		return
	}
	if string(head[:4]) != "TREE" || head[4] != 1 {
		h.fail("is damaged: no tree of chunks where one should be")
		return
	}
	key := 8 + 8*(len(d.dims)+1)
	n := int(h.uint(head, 6, 2))
	b := h.bytes(tree+24, uint64(n*(key+8)))
	for k := 0; k+key+8 <= len(b) && h.err == nil; k += key + 8 {
		child := h.uint(b, k+key, 8)
		if head[5] > 0 {
			h.chunks(d, child, chunk, size, out, level+1)
			continue
		}
		offset := make([]uint64, len(d.dims))
		for i := range offset {
			offset[i] = h.uint(b, k+8+8*i, 8)
		}
		packed := h.bytes(child, h.uint(b, k, 4))
		if plain := h.unfilter(d, packed, h.uint(b, k+4, 4), size); plain != nil {
			place(d, chunk, offset, plain, out)
		}
	}
}

// unfilter undoes the pipeline on one chunk.
func (h *hdf5) unfilter(d hdf5Data, b []byte, mask, size uint64) []byte {
	for k := len(d.filters) - 1; k >= 0; k-- {
		if mask>>k&1 != 0 {
			continue
		}
		switch d.filters[k] {
		case filterDeflate:
			z, err := zlib.NewReader(bytes.NewReader(b))
			if err == nil {
				b, err = readBounded(z, int64(len(b)))
			}
			if err != nil {
				h.fail("has a chunk that %s", packingFault(err))
				return nil
			}
		case filterShuffle:
			b = unshuffle(b, d.size)
		case filterChecksum:
			b = b[:max(len(b)-4, 0)]
		default:
			h.fail("is packed by filter %d", d.filters[k])
			return nil
		}
	}
	if uint64(len(b)) != size {
		h.fail("is damaged: a chunk of %d bytes instead of %d", len(b), size)
		return nil
	}
	return b
}

// unshuffle puts the bytes of each number together again.
func unshuffle(b []byte, size int) []byte {
	n := len(b) / size
	out := make([]byte, len(b))
	for k := range n {
		for i := range size {
			out[k*size+i] = b[i*n+k]
		}
	}
	copy(out[n*size:], b[n*size:])
	return out
}

// place copies a chunk to where it belongs; what hangs over the edge is left.
func place(d hdf5Data, chunk, offset []uint64, b, out []byte) {
	rows, columns := d.dims[0], uint64(1)
	width, first := uint64(1), uint64(0)
	if len(d.dims) == 2 {
		columns, width, first = d.dims[1], chunk[1], offset[1]
	}
	if first >= columns {
		return
	}
	n := min(width, columns-first) * uint64(d.size)
	for r := range chunk[0] {
		row := offset[0] + r
		if offset[0] >= rows || row >= rows {
			return
		}
		at := (row*columns + first) * uint64(d.size)
		copy(out[at:at+n], b[r*width*uint64(d.size):])
	}
}

package format

import (
	"bytes"
	"compress/zlib"
)

// Filters of the pipeline.
const (
	filterDeflate  = 1
	filterShuffle  = 2
	filterChecksum = 3
)

// undefined is the address of what was never written.
const undefined = 1<<64 - 1

// raw returns the bytes of the dataset, row by row, nil if they could not be
// had. A chunk packs no more than maxRatio times its size, so that dimensions
// that lie allocate nothing.
func (h *hdf5) raw(d hdf5Data) []byte {
	total := uint64(d.size)
	for _, n := range d.dims {
		if n == 0 || total == 0 || n > 1<<40/total {
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
	case class == 1 && h.uint(d.layout, 2, 8) == undefined:
		h.fail("has a dataset that was never written")
	case class == 1:
		return h.bytes(h.uint(d.layout, 2, 8), total)
	case class == 2:
		return h.chunked(d, total)
	default:
		h.fail("has a data layout of class %d", class)
	}
	return nil
}

// chunks is a dataset in chunks under reading.
type chunks struct {
	d      hdf5Data
	chunk  []uint64 // dims of a chunk
	size   uint64   // bytes of a chunk
	whole  bool     // chunks at the edge that hang over are not filtered
	out    []byte
	placed map[[2]uint64]bool // offsets of the chunks that were found
}

// chunked puts the chunks of a dataset together.
func (h *hdf5) chunked(d hdf5Data, total uint64) []byte {
	c := &chunks{d: d, placed: map[[2]uint64]bool{}}
	version, rank, at, wide := d.layout[0], 2, 11, 4
	if version == 4 {
		rank, wide, at = 3, int(h.uint(d.layout, 4, 1)), 5
		c.whole = h.uint(d.layout, 2, 1)&1 != 0
	}
	if int(h.uint(d.layout, rank, 1)) != len(d.dims)+1 || wide > 8 {
		h.fail("is damaged: chunks of another rank than their dataset")
		return nil
	}
	c.size = uint64(d.size)
	want := uint64(1)
	for _, n := range d.dims {
		extent := h.uint(d.layout, at, wide)
		if at += wide; extent == 0 || c.size > 1<<31/extent {
			h.fail("is damaged: chunks of %d samples", extent)
			return nil
		}
		c.size *= extent
		c.chunk = append(c.chunk, extent)
		want *= (n + extent - 1) / extent
	}
	c.out = make([]byte, total)
	if version == 3 {
		h.chunkTree(c, h.uint(d.layout, 3, 8), 0)
	} else {
		h.chunkIndex(c, d.layout, at+wide)
	}
	if n := uint64(len(c.placed)); n != want {
		h.fail("has a dataset of which %d chunks of %d were written", n, want)
	}
	if h.err != nil {
		return nil
	}
	return c.out
}

// chunkTree walks the tree of chunks of the older kind.
func (h *hdf5) chunkTree(c *chunks, tree uint64, level int) {
	if tree == undefined {
		return
	}
	head := h.bytes(tree, 24)
	if head == nil || level > 16 || !h.visit() {
		return
	}
	if string(head[:4]) != "TREE" || head[4] != 1 {
		h.fail("is damaged: no tree of chunks where one should be")
		return
	}
	key := 8 + 8*(len(c.chunk)+1)
	n := int(h.uint(head, 6, 2))
	b := h.bytes(tree+24, uint64(n*(key+8)))
	for k := 0; k+key+8 <= len(b) && h.err == nil; k += key + 8 {
		child := h.uint(b, k+key, 8)
		if head[5] > 0 {
			h.chunkTree(c, child, level+1)
			continue
		}
		offset := make([]uint64, len(c.chunk))
		for i := range offset {
			offset[i] = h.uint(b, k+8+8*i, 8)
		}
		h.place(c, offset, child, h.uint(b, k, 4), h.uint(b, k+4, 4))
	}
}

// place unpacks the chunk of n bytes at that address and copies it to where it
// belongs, offset counted in samples; what hangs over the edge is left.
func (h *hdf5) place(c *chunks, offset []uint64, at, n, mask uint64) {
	if at == undefined || h.err != nil {
		return
	}
	var key [2]uint64
	if copy(key[:], offset); c.placed[key] {
		h.fail("is damaged: a chunk that stands twice")
		return
	}
	for k, o := range offset {
		if o >= c.d.dims[k] {
			return // of an extent that the dataset had before
		}
		if c.whole && o+c.chunk[k] > c.d.dims[k] {
			n, mask = c.size, undefined
		}
	}
	b := h.unfilter(c.d, h.bytes(at, n), mask, c.size)
	if b == nil {
		return
	}
	c.placed[key] = true
	rows, columns, width, first := c.d.dims[0], uint64(1), uint64(1), uint64(0)
	if len(c.d.dims) == 2 {
		columns, width, first = c.d.dims[1], c.chunk[1], offset[1]
	}
	size := uint64(c.d.size)
	n = min(width, columns-first) * size
	for r := range min(c.chunk[0], rows-offset[0]) {
		to := ((offset[0]+r)*columns + first) * size
		copy(c.out[to:to+n], b[r*width*size:])
	}
}

// unfilter undoes the pipeline on one chunk.
func (h *hdf5) unfilter(d hdf5Data, b []byte, mask, size uint64) []byte {
	for k := len(d.filters) - 1; k >= 0 && h.err == nil; k-- {
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
			h.fail("is packed by filter %d, which is not read here", d.filters[k])
			return nil
		}
	}
	if h.err == nil && uint64(len(b)) != size {
		h.fail("is damaged: a chunk of %d bytes instead of %d", len(b), size)
	}
	if h.err != nil {
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

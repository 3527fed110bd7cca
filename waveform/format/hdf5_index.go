package format

import "math/bits"

// chunkIndex finds the chunks by an index of the kinds of data layout version
// 4, which stands at that place of the layout message.
func (h *hdf5) chunkIndex(c *chunks, layout []byte, at int) {
	const single, implicit, fixed, extensible, tree = 1, 2, 3, 4, 5
	kind := h.uint(layout, at, 1)
	at++
	first := make([]uint64, len(c.chunk))
	switch kind {
	case single:
		n, mask := c.size, uint64(0)
		if h.uint(layout, 2, 1)&2 != 0 {
			n, mask = h.uint(layout, at, 8), h.uint(layout, at+8, 4)
			at += 12
		}
		h.place(c, first, h.uint(layout, at, 8), n, mask)
	case implicit:
		start := h.uint(layout, at, 8)
		for k := range c.count() {
			if start != undefined {
				h.place(c, c.offset(k, false), start+k*c.size, c.size, 0)
			}
		}
	case fixed:
		h.fixedArray(c, h.uint(layout, at+1, 8))
	case extensible:
		h.extensibleArray(c, h.uint(layout, at+5, 8))
	case tree:
		h.tree2(h.uint(layout, at+6, 8), func(record []byte) { h.chunkRecord(c, record) })
	default:
		h.fail("has a chunk index of kind %d", kind)
	}
}

// extents returns how many chunks there may be along each dimension: what is
// not bounded counts as it is.
func (c *chunks) extents() []uint64 {
	n := make([]uint64, len(c.chunk))
	for k := range n {
		most := c.d.dims[k]
		if c.d.most[k] != undefined {
			most = max(most, c.d.most[k])
		}
		n[k] = (most-1)/c.chunk[k] + 1
	}
	return n
}

// count returns the chunks of an index that has a place for each.
func (c *chunks) count() uint64 {
	n := uint64(1)
	for _, e := range c.extents() {
		n *= min(e, 1<<32)
	}
	return min(n, uint64(len(c.out))+1)
}

// offset returns where chunk k of an index stands, in samples. In an array that
// grows, the dimension without a bound comes before the others.
func (c *chunks) offset(k uint64, grows bool) []uint64 {
	n := c.extents()
	order := []int{0, 1}[:len(n)]
	if grows && len(n) == 2 && c.d.most[1] == undefined {
		order = []int{1, 0}
	}
	offset := make([]uint64, len(n))
	for i := len(order) - 1; i >= 0; i-- {
		d := order[i]
		if i == 0 {
			offset[d] = k * c.chunk[d]
		} else {
			offset[d] = k % n[d] * c.chunk[d]
			k /= n[d]
		}
	}
	return offset
}

// elements places the chunks of b, the elements of an index from number first
// on: an address each, with size and filter mask where chunks are filtered.
func (h *hdf5) elements(c *chunks, b []byte, first uint64, size int, grows bool) {
	for k := 0; k+size <= len(b) && h.err == nil; k += size {
		n, mask := c.size, uint64(0)
		if size > 8 {
			n, mask = h.uint(b, k+8, size-12), h.uint(b, k+size-4, 4)
		}
		h.place(c, c.offset(first+uint64(k/size), grows), h.uint(b, k, 8), n, mask)
	}
}

// fixedArray reads an index of as many elements as there can be chunks.
func (h *hdf5) fixedArray(c *chunks, at uint64) {
	if at == undefined {
		return
	}
	head := h.marked(at, 24, "FAHD", "fixed array")
	if head == nil {
		return
	}
	size, page := int(head[6]), uint64(1)<<min(head[7], 40)
	count := h.uint(head, 8, 8)
	block := h.uint(head, 16, 8)
	if block == undefined {
		return
	}
	h.paged(c, block+14, 0, count, page, size, "FADB", block, false)
}

// paged reads the elements of a data block, which stand in pages if they are
// more than one holds: behind the head, then a bit for each page that was
// written, a checksum, and the pages with a checksum each.
func (h *hdf5) paged(c *chunks, at, first, count, page uint64, size int, mark string, block uint64, grows bool) {
	if head := h.bytes(block, 4); head == nil || string(head) != mark || size < 8 || size > 20 || size > 8 && size < 13 {
		h.fail("is damaged: no block of an array where one should be")
		return
	}
	if count <= page {
		h.elements(c, h.bytes(at, count*uint64(size)), first, size, grows)
		return
	}
	pages := (count + page - 1) / page
	written := h.bytes(at, (pages+7)/8)
	if mark == "EADB" {
		written = nil // the super block has the bits
	} else {
		at += (pages + 7) / 8
	}
	at += 4
	for p := range pages {
		n := min(page, count-p*page)
		if written == nil || written[p/8]&(0x80>>(p%8)) != 0 {
			h.elements(c, h.bytes(at, n*uint64(size)), first+p*page, size, grows)
		}
		at += page*uint64(size) + 4
		if h.err != nil {
			return
		}
	}
}

// extensibleArray reads an index that grows: some elements in its first block,
// then data blocks that double, then blocks of addresses of data blocks.
func (h *hdf5) extensibleArray(c *chunks, at uint64) {
	if at == undefined {
		return
	}
	head := h.marked(at, 68, "EAHD", "extensible array")
	if head == nil {
		return
	}
	a := growing{size: int(head[6]), bits: int(head[7]), inFirst: uint64(head[8]), least: uint64(head[9]), pointers: uint64(head[10]), page: uint64(1) << min(head[11], 40)}
	index := h.uint(head, 60, 8)
	if index == undefined {
		return
	}
	if a.bits > 64 || a.least == 0 || a.pointers == 0 || a.size < 8 || a.size > 20 {
		h.fail("is damaged: an extensible array of impossible sizes")
		return
	}
	h.elements(c, h.bytes(index+14, a.inFirst*uint64(a.size)), 0, a.size, true)
	pos := index + 14 + a.inFirst*uint64(a.size)
	first := a.inFirst
	inIndex := 2 * (bits.Len64(a.pointers) - 1) // super blocks whose data blocks the index itself points to
	for s := range 1 + a.bits - (bits.Len64(a.least) - 1) {
		blocks, each := uint64(1)<<(s/2), a.least<<((s+1)/2)
		if s < inIndex {
			for range blocks {
				h.dataBlock(c, a, h.uint(h.bytes(pos, 8), 0, 8), first, each)
				pos, first = pos+8, first+each
			}
		} else {
			h.superBlock(c, a, h.uint(h.bytes(pos, 8), 0, 8), first, blocks, each)
			pos, first = pos+8, first+blocks*each
		}
		if h.err != nil || first > uint64(len(c.out)) {
			return
		}
	}
}

// growing is what the head of an extensible array says.
type growing struct {
	size, bits                     int
	inFirst, least, pointers, page uint64
}

// dataBlock reads a data block of n elements, the first of that number.
func (h *hdf5) dataBlock(c *chunks, a growing, at, first, n uint64) {
	if at == undefined || h.err != nil {
		return
	}
	h.paged(c, at+14+uint64(a.bits+7)/8, first, n, a.page, a.size, "EADB", at, true)
}

// superBlock reads a block of addresses of data blocks.
func (h *hdf5) superBlock(c *chunks, a growing, at, first, blocks, each uint64) {
	if at == undefined || h.err != nil {
		return
	}
	if h.marked(at, 4, "EASB", "super block of an array") == nil {
		return
	}
	pos := at + 14 + uint64(a.bits+7)/8
	if each > a.page {
		pos += blocks * ((each/a.page + 7) / 8) // bits of the pages that were written
	}
	b := h.bytes(pos, 8*blocks)
	for k := range blocks {
		if h.err != nil {
			return
		}
		h.dataBlock(c, a, h.uint(b, int(8*k), 8), first+k*each, each)
	}
}

// chunkRecord places the chunk of a record of a version 2 tree.
func (h *hdf5) chunkRecord(c *chunks, b []byte) {
	n, mask, rest := c.size, uint64(0), len(b)-8-8*len(c.chunk)
	if rest > 4 {
		n, mask = h.uint(b, 8, rest-4), h.uint(b, 8+rest-4, 4)
	}
	offset := make([]uint64, len(c.chunk))
	for k := range offset {
		offset[k] = h.uint(b, 8+max(rest, 0)+8*k, 8) * c.chunk[k]
	}
	h.place(c, offset, h.uint(b, 0, 8), n, mask)
}

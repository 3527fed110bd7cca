package format

import "math/bits"

// tree2 walks a version 2 B-tree and hands each record to a function.
func (h *hdf5) tree2(at uint64, each func(record []byte)) {
	if at == undefined {
		return
	}
	head := h.marked(at, 38, "BTHD", "tree")
	if head == nil {
		return
	}
	node, record, depth := h.uint(head, 6, 4), h.uint(head, 10, 2), int(h.uint(head, 12, 2))
	const around = 10 // bytes of a node that are no records
	if record == 0 || node <= around || depth > 16 {
		h.fail("is damaged: a tree of impossible sizes")
		return
	}
	t := tree2{h: h, record: record, each: each}
	most := (node - around) / record // records of a leaf
	t.countSize = limitSize(most)
	all, size := most, uint64(0)
	for range depth {
		t.totalSizes = append(t.totalSizes, size)
		pointer := 8 + t.countSize + size
		most = (node - around - pointer) / (record + pointer)
		all = (most+1)*all + most
		size = limitSize(all)
	}
	t.node(h.uint(head, 16, 8), h.uint(head, 24, 2), depth)
}

// tree2 is a version 2 B-tree under reading.
type tree2 struct {
	h          *hdf5
	record     uint64
	countSize  uint64   // bytes of a child's number of records
	totalSizes []uint64 // bytes of the number of records below a child, by depth less one
	each       func(record []byte)
}

// node reads a node of n records; depth 0 is a leaf.
func (t *tree2) node(at, n uint64, depth int) {
	if !t.h.visit() {
		return
	}
	mark := "BTIN"
	if depth == 0 {
		mark = "BTLF"
	}
	b := t.h.marked(at, 6+n*t.record, mark, "node of a tree")
	if b == nil {
		return
	}
	for k := range n {
		t.each(b[6+k*t.record:][:t.record])
	}
	if depth == 0 {
		return
	}
	size := 8 + t.countSize + t.totalSizes[depth-1]
	b = t.h.bytes(at+6+n*t.record, (n+1)*size)
	for k := uint64(0); k <= n && t.h.err == nil; k++ {
		child := int(k * size)
		t.node(t.h.uint(b, child, 8), t.h.uint(b, child+8, int(t.countSize)), depth-1)
	}
}

// limitSize returns how many bytes hold numbers up to n.
func limitSize(n uint64) uint64 { return uint64(bits.Len64(max(n, 1))-1)/8 + 1 }

// dense hands the objects of a fractal heap to a function, as an index of names
// lists them: links of a group (records of type 5) and attributes (type 8).
func (h *hdf5) dense(heap, index uint64, each func(object []byte)) {
	if heap == undefined || index == undefined || h.err != nil {
		return
	}
	f, ok := h.heap(heap)
	if !ok {
		return
	}
	skip := 0
	if kind := h.bytes(index, 6); kind != nil && kind[5] == 5 {
		skip = 4 // the hash of the name
	}
	h.tree2(index, func(record []byte) {
		if skip+f.idSize > len(record) {
			h.fail("is damaged: a record too short for its object")
			return
		}
		if b := f.object(h, record[skip:skip+f.idSize]); b != nil {
			each(b)
		}
	})
}

// fractalHeap is the head of a heap whose blocks double in size.
type fractalHeap struct {
	idSize, offsetSize, lengthSize int
	width, start, most             uint64 // blocks in a row, bytes of the first, of the largest direct block
	root                           uint64
	rows                           uint64 // of the root, 0 where it is a direct block
}

func (h *hdf5) heap(at uint64) (f fractalHeap, ok bool) {
	b := h.marked(at, 146, "FRHP", "heap")
	if b == nil {
		return f, false
	}
	if h.uint(b, 7, 2) != 0 {
		h.fail("keeps its names in a packed heap")
		return f, false
	}
	f = fractalHeap{idSize: int(h.uint(b, 5, 2)), width: h.uint(b, 110, 2), start: h.uint(b, 112, 8), most: h.uint(b, 120, 8), root: h.uint(b, 132, 8), rows: h.uint(b, 140, 2)}
	f.offsetSize = int(h.uint(b, 128, 2)+7) / 8
	f.lengthSize = int(min(uint64(bits.Len64(f.most)-1+7)/8, limitSize(h.uint(b, 10, 4))))
	if f.width == 0 || f.start == 0 || f.most < f.start || f.idSize < 1+f.offsetSize+f.lengthSize || f.rows > 64 {
		h.fail("is damaged: a heap of impossible sizes")
		return f, false
	}
	return f, true
}

// object returns the object of that identifier.
func (f fractalHeap) object(h *hdf5, id []byte) []byte {
	const managed, tiny = 0, 2
	switch kind := id[0] >> 4 & 3; kind {
	case managed:
		at := h.uint(id, 1, f.offsetSize)
		return f.managed(h, f.root, f.rows, 0, at, h.uint(id, 1+f.offsetSize, f.lengthSize))
	case tiny:
		return id[1:min(len(id), 2+int(id[0]&15))]
	default:
		h.fail("keeps objects of kind %d in its heap", kind)
	}
	return nil
}

// managed returns n bytes at an offset of the heap, from the block that holds
// it: block is direct where it has no rows.
func (f fractalHeap) managed(h *hdf5, block, rows, from, offset, n uint64) []byte {
	if rows == 0 {
		return h.bytes(block+offset-from, n)
	}
	pos := block + 13 + uint64(f.offsetSize)
	for r := range rows {
		size := f.start
		if r > 1 {
			size <<= r - 1
		}
		for range f.width {
			if offset >= from && offset-from < size {
				child := h.uint(h.bytes(pos, 8), 0, 8)
				if size <= f.most {
					return f.managed(h, child, 0, from, offset, n)
				}
				return f.managed(h, child, uint64(bits.Len64(size/f.start/f.width)), from, offset, n)
			}
			from, pos = from+size, pos+8
		}
		if h.err != nil {
			return nil
		}
	}
	h.fail("is damaged: an object behind the end of its heap")
	return nil
}

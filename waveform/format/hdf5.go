package format

import (
	"bytes"
	"cmp"
	"fmt"
	"path"
	"slices"
	"strings"

	"slewbook/waveform"
)

// hdf5Format reads the datasets of an HDF5 file's groups, and so a MAT-file 7.3
// (layout from the HDF5 file format specification, from memory): contiguous,
// compact and chunked ones of numbers, plain or through deflate and shuffle,
// with the attributes that give unit, interval and scale; groups and chunk
// indexes of the older and the newer kinds.
var hdf5Format = Format{Name: "HDF5 file",
	Recognise: func(head []byte, _ string) bool { return hdf5Start(head) >= 0 },
	Read:      readHDF5}

const hdf5Magic = "\x89HDF\r\n\x1a\n"

// hdf5Start returns where the superblock stands, -1 if there is none: at the
// start or behind a block of the user's own.
func hdf5Start(head []byte) int {
	for _, at := range []int{0, 512, 1024, 2048} {
		if len(head) > at && bytes.HasPrefix(head[at:], []byte(hdf5Magic)) {
			return at
		}
	}
	return -1
}

func readHDF5(in Input) ([]*waveform.Capture, error) {
	b, err := in.bytes()
	if err != nil {
		return nil, err
	}
	start := hdf5Start(b)
	if start < 0 {
		return nil, in.fault("no mark of an HDF5 file in it", "an HDF5 file", "")
	}
	h := &hdf5{b: b[start:], seen: map[uint64]bool{}}
	h.group(h.root(), "", 0)
	if h.err != nil {
		return nil, in.fault("an HDF5 file that "+h.err.Error(), "whole datasets of numbers", "save it again as volts and amperes, plain or packed by deflate")
	}
	if len(h.found) == 0 {
		return nil, in.fault("an HDF5 file without a dataset of numbers", "datasets of time and samples", "")
	}
	// Groups list their names by the alphabet; the file grew in the order of
	// writing.
	slices.SortStableFunc(h.found, func(a, b placed) int { return cmp.Compare(a.at, b.at) })
	var vs []vector
	for _, f := range h.found {
		vs = append(vs, f.vector)
	}
	return fromGroups(in, "HDF5 file", vs, nil)
}

// placed is a vector with the address of its dataset's object header.
type placed struct {
	vector
	at uint64
}

// hdf5 is a file under reading. The first thing that is wrong stays in err;
// reads behind the end give zeros.
type hdf5 struct {
	b     []byte
	seen  map[uint64]bool // object headers
	found []placed
	nodes int // of trees that were visited
	err   error
}

func (h *hdf5) fail(format string, args ...any) {
	if h.err == nil {
		h.err = fmt.Errorf(format, args...)
	}
}

// visit counts a node of a tree; a damaged one may lead back to itself.
func (h *hdf5) visit() bool {
	if h.nodes++; h.nodes > 1<<20 {
		h.fail("is damaged: a tree without an end")
	}
	return h.err == nil
}

// bytes returns n bytes at that address.
func (h *hdf5) bytes(at uint64, n uint64) []byte {
	if at > uint64(len(h.b)) || n > uint64(len(h.b))-at {
		h.fail("is cut short or damaged: %d bytes at %d", n, at)
		return nil
	}
	return h.b[at : at+n]
}

// marked is bytes of a block that starts with a mark; nil of another one, which is
// damage: what tells what should be there.
func (h *hdf5) marked(at, n uint64, mark, what string) []byte {
	b := h.bytes(at, n)
	if b != nil && string(b[:4]) != mark {
		h.fail("is damaged: no %s where one should be", what)
		return nil
	}
	return b
}

// uint returns a little-endian number of n bytes at b[at:].
func (h *hdf5) uint(b []byte, at, n int) uint64 {
	if at < 0 || at+n > len(b) {
		h.fail("is damaged: a field behind the end of its block")
		return 0
	}
	v := uint64(0)
	for k := n - 1; k >= 0; k-- {
		v = v<<8 | uint64(b[at+k])
	}
	return v
}

// root returns the address of the root group's object header.
func (h *hdf5) root() uint64 {
	head := h.bytes(0, min(128, uint64(len(h.b))))
	if len(head) < 64 {
		h.fail("is cut short")
		return 0
	}
	version, at := head[8], 0
	switch version {
	case 0:
		at = 24
	case 1:
		at = 28
	case 2, 3:
		if head[9] != 8 || head[10] != 8 {
			h.fail("has addresses of %d bytes", head[9])
		}
		return h.uint(head, 12+3*8, 8)
	default:
		h.fail("has a superblock of version %d", version)
		return 0
	}
	if head[13] != 8 || head[14] != 8 {
		h.fail("has addresses of %d bytes", head[13])
	}
	return h.uint(head, at+4*8+8, 8)
}

// message is one message of an object header.
type message struct {
	kind uint64
	data []byte
}

// messages returns the messages of an object header.
func (h *hdf5) messages(at uint64) []message {
	head := h.bytes(at, 16)
	if head == nil {
		return nil
	}
	var all []message
	type span struct{ at, n uint64 }
	var blocks []span
	newer := string(head[:4]) == "OHDR"
	flags := head[5]
	if newer {
		skip := uint64(6)
		if flags&0x20 != 0 {
			skip += 16
		}
		if flags&0x10 != 0 {
			skip += 4
		}
		size := 1 << (flags & 3)
		n := h.uint(h.bytes(at+skip, uint64(size)), 0, size)
		blocks = []span{{at + skip + uint64(size), n}}
	} else if head[0] == 1 {
		blocks = []span{{at + 16, h.uint(head, 8, 4)}}
	} else {
		h.fail("has an object header of version %d", head[0])
	}
	for k := 0; k < len(blocks) && k < 1000 && h.err == nil; k++ {
		b := h.bytes(blocks[k].at, blocks[k].n)
		for len(b) >= 8 || (newer && len(b) >= 4) {
			kind, size, skip := h.uint(b, 0, 2), h.uint(b, 2, 2), 8
			if newer {
				kind, size, skip = uint64(b[0]), h.uint(b, 1, 2), 4
				if flags&4 != 0 {
					skip += 2
				}
			}
			if uint64(len(b)) < uint64(skip)+size {
				break
			}
			data := b[skip : uint64(skip)+size]
			b = b[uint64(skip)+size:]
			if kind != 0x10 {
				all = append(all, message{kind, data})
				continue
			}
			next := span{h.uint(data, 0, 8), h.uint(data, 8, 8)}
			if newer && next.n >= 8 { // between its signature and its checksum
				next = span{next.at + 4, next.n - 8}
			}
			blocks = append(blocks, next)
		}
	}
	return all
}

// group reads the datasets of a group and of those in it, and the numbers among
// its attributes.
func (h *hdf5) group(at uint64, name string, depth int) {
	if depth > 8 || h.seen[at] || len(h.seen) > 10_000 || h.err != nil {
		return
	}
	h.seen[at] = true
	ms := h.messages(at)
	if slices.ContainsFunc(ms, func(m message) bool { return m.kind == 0x08 }) {
		h.dataset(ms, name, at)
		return
	}
	for _, a := range h.attributes(ms) {
		if a.isNumber {
			h.found = append(h.found, placed{vector{name: a.key, group: name, y: []float64{a.number}}, at})
		}
	}
	for _, m := range ms {
		switch m.kind {
		case 0x11: // symbol table
			heap := h.bytes(h.uint(m.data, 8, 8), 32)
			if heap == nil {
				return
			}
			h.symbols(h.uint(m.data, 0, 8), h.uint(heap, 24, 8), name, depth, 0)
		case 0x06:
			h.link(m.data, name, depth)
		case 0x02: // links in a heap
			skip := 2
			if len(m.data) > 1 && m.data[1]&1 != 0 {
				skip += 8
			}
			h.dense(h.uint(m.data, skip, 8), h.uint(m.data, skip+8, 8), func(b []byte) { h.link(b, name, depth) })
		}
	}
}

// symbols walks the tree of a group of the older kind.
func (h *hdf5) symbols(tree, names uint64, group string, depth, level int) {
	head := h.bytes(tree, 8)
	if head == nil || level > 16 || !h.visit() {
		return
	}
	n := h.uint(head, 6, 2)
	if string(head[:4]) == "SNOD" {
		b := h.bytes(tree+8, 40*n)
		for k := 0; k+40 <= len(b); k += 40 {
			name, _, _ := bytes.Cut(h.b[min(names+h.uint(b, k, 8), uint64(len(h.b))):], []byte{0})
			h.member(h.uint(b, k+8, 8), group, string(name[:min(len(name), 256)]), depth)
		}
		return
	}
	if string(head[:4]) != "TREE" {
		h.fail("is damaged: no tree where one should be")
		return
	}
	b := h.bytes(tree+24, 16*n+8)
	for k := 8; k+8 <= len(b); k += 16 {
		h.symbols(h.uint(b, k, 8), names, group, depth, level+1)
	}
}

// link follows a hard link.
func (h *hdf5) link(b []byte, group string, depth int) {
	if len(b) < 4 {
		return
	}
	flags, at := b[1], 2
	if flags&8 != 0 {
		if b[at] != 0 {
			return // soft or external
		}
		at++
	}
	if flags&4 != 0 {
		at += 8
	}
	if flags&0x10 != 0 {
		at++
	}
	size := 1 << (flags & 3)
	n := int(min(h.uint(b, at, size), 1<<16))
	at += size
	if at+n+8 > len(b) {
		h.fail("is damaged: a link behind the end of its block")
		return
	}
	h.member(h.uint(b, at+n, 8), group, string(b[at:at+n]), depth)
}

// member reads what a group holds under that name, unless it is kept there for
// the writer's own use (the cells of a MAT-file 7.3, which only its references
// put in order).
func (h *hdf5) member(at uint64, group, name string, depth int) {
	if !strings.HasPrefix(name, "#") {
		h.group(at, path.Join(group, name), depth+1)
	}
}

package format

import (
	"bytes"
	"compress/zlib"
	"encoding/binary"
	"errors"
	"fmt"
	"path"

	"slewbook/waveform"
)

// matFormat reads a MAT-file of level 5 (its layout from the published
// description of the format, from memory): numeric arrays by their names, also
// inside structures and packed by zlib.
var matFormat = Format{Name: "MAT-file, level 5", Recognise: isMat, Read: readMat}

// isMat tells the header: 116 bytes of text, then the version and the mark of
// the byte order.
func isMat(head []byte, _ string) bool {
	return len(head) >= 128 && (string(head[124:128]) == "\x00\x01IM" || string(head[124:128]) == "\x01\x00MI")
}

// Data types and classes of arrays.
const (
	miInt8, miUint8, miInt16, miUint16, miInt32, miUint32, miSingle = 1, 2, 3, 4, 5, 6, 7
	miDouble, miInt64, miUint64, miMatrix, miCompressed             = 9, 12, 13, 14, 15
	mxStruct, mxSingle                                              = 2, 7
	mxFirstNumber, mxLastNumber                                     = 6, 15
)

var errMatShort = errors.New("is cut short")

// mat is a MAT-file under reading.
type mat struct {
	order binary.ByteOrder
	vs    []vector
}

func readMat(in Input) ([]*waveform.Capture, error) {
	b, err := in.bytes()
	if err != nil {
		return nil, err
	}
	if !isMat(b, in.Name) {
		return nil, in.fault("no header of a MAT-file in it", "a MAT-file of level 5", "")
	}
	m := mat{order: binary.LittleEndian}
	if b[126] == 'M' {
		m.order = binary.BigEndian
	}
	if err := m.elements(b[128:], 0); err != nil {
		return nil, in.fault("a MAT-file that "+err.Error(), "named vectors", "save it again")
	}
	return fromGroups(in, "MAT-file, level 5", m.vs, nil)
}

// elements reads the arrays one after another.
func (m *mat) elements(b []byte, depth int) error {
	for len(b) >= 8 {
		kind, data, rest, err := m.element(b)
		if err != nil {
			return err
		}
		b = rest
		switch kind {
		case miCompressed:
			if depth > 0 {
				return errors.New("is packed twice")
			}
			z, err := zlib.NewReader(bytes.NewReader(data))
			if err != nil {
				return errors.New(packingFault(err))
			}
			plain, err := readBounded(z, int64(len(data)))
			if err != nil {
				return errors.New(packingFault(err))
			}
			if err := m.elements(plain, 1); err != nil {
				return err
			}
		case miMatrix:
			if err := m.matrix(data, "", "", 0); err != nil {
				return err
			}
		}
	}
	return nil
}

// element takes one element off b.
func (m *mat) element(b []byte) (kind uint32, data, rest []byte, err error) {
	if len(b) < 8 {
		return 0, nil, nil, errMatShort
	}
	kind, size := m.order.Uint32(b), m.order.Uint32(b[4:])
	if small := kind >> 16; small != 0 { // up to four bytes stand in the tag
		if small > 4 {
			return 0, nil, nil, errors.New("is damaged")
		}
		return kind & 0xffff, b[4 : 4+small], b[8:], nil
	}
	if int64(size) > int64(len(b)-8) {
		return 0, nil, nil, errMatShort
	}
	end := 8 + int(size)
	if kind != miCompressed {
		end = min((end+7)&^7, len(b))
	}
	return kind, b[8 : 8+int(size)], b[end:], nil
}

// matrix reads an array; within is the structure that it is a field of, and
// field its name there.
func (m *mat) matrix(b []byte, within, field string, depth int) error {
	_, flags, b, err := m.element(b)
	if err != nil {
		return err
	}
	_, dims, b, err := m.element(b)
	if err != nil {
		return err
	}
	_, name, b, err := m.element(b)
	if err != nil || len(flags) < 8 || len(dims) < 8 {
		return errMatShort
	}
	flag := m.order.Uint32(flags)
	class, isComplex := flag&0xff, flag&0x0800 != 0
	title := field
	if depth == 0 {
		title = string(name)
	}
	switch {
	case class == mxStruct && depth < 8:
		return m.structure(b, path.Join(within, title), m.extent(dims), depth)
	case class < mxFirstNumber || class > mxLastNumber || isComplex:
		return nil // words, cells, functions: no series
	}
	kind, data, _, err := m.element(b)
	if err != nil {
		return err
	}
	y, err := m.numbers(kind, data)
	if err != nil {
		return err
	}
	a := array{rows: int(int32(m.order.Uint32(dims))), columns: 1, y: y, fortran: true, single: class == mxSingle}
	for k := 4; k+4 <= len(dims); k += 4 {
		if n := int(int32(m.order.Uint32(dims[k:]))); n >= 0 && n <= len(y) && a.columns <= len(y) {
			a.columns *= n
		} else {
			return fmt.Errorf("is damaged: %s has %d numbers", title, len(y))
		}
	}
	if a.rows < 0 || a.rows > len(y) || a.rows*a.columns != len(y) {
		return fmt.Errorf("is damaged: %s has %d numbers", title, len(y))
	}
	if len(y) == 0 {
		return nil
	}
	m.vs = append(m.vs, a.vectors(within, title, path.Join(within, title))...)
	return nil
}

// extent returns how many elements an array of these dimensions has.
func (m *mat) extent(dims []byte) int {
	n := 1
	for k := 0; k+4 <= len(dims); k += 4 {
		n *= int(int32(m.order.Uint32(dims[k:])))
	}
	return n
}

// structure reads the fields of a structure, or of each of an array of them,
// under their own names.
func (m *mat) structure(b []byte, group string, elements, depth int) error {
	_, length, b, err := m.element(b)
	if err != nil {
		return err
	}
	_, names, b, err := m.element(b)
	if err != nil || len(length) < 4 {
		return errMatShort
	}
	n := int(m.order.Uint32(length))
	if n <= 0 || n > 256 || len(names)%n != 0 {
		return errors.New("is damaged: a structure without names")
	}
	for k := 0; len(b) >= 8; k++ {
		kind, data, rest, err := m.element(b)
		if err != nil {
			return err
		}
		b = rest
		if kind != miMatrix || len(data) == 0 || len(names) == 0 {
			continue
		}
		at := k * n % len(names)
		field, _, _ := bytes.Cut(names[at:at+n], []byte{0})
		within := group
		if elements > 1 {
			within = path.Join(group, fmt.Sprint(k*n/len(names)+1))
		}
		if err := m.matrix(data, within, string(field), depth+1); err != nil {
			return err
		}
	}
	return nil
}

// numbers turns stored numbers, which may be of a smaller type than the array's
// class, into floats.
func (m *mat) numbers(kind uint32, data []byte) ([]float64, error) {
	types := map[uint32]struct {
		kind string
		size int
	}{miInt8: {"i", 1}, miUint8: {"u", 1}, miInt16: {"i", 2}, miUint16: {"u", 2}, miInt32: {"i", 4}, miUint32: {"u", 4},
		miSingle: {"f", 4}, miDouble: {"f", 8}, miInt64: {"i", 8}, miUint64: {"u", 8}}
	t, ok := types[kind]
	if !ok {
		return nil, fmt.Errorf("is damaged: numbers of type %d", kind)
	}
	get := numberGetter(t.kind, t.size, m.order == binary.ByteOrder(binary.BigEndian))
	y := make([]float64, len(data)/t.size)
	for k := range y {
		y[k] = get(data[k*t.size:])
	}
	return y, nil
}

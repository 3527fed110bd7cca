package format

import (
	"errors"
	"fmt"
	"io"
)

// Input is a file as a format sees it: unpacked and with its name. It is either
// in memory or read from the disk in blocks, so that a large text never has to
// stand in memory beside its samples. Nothing is mapped: a mapped file that
// shrinks kills the process, a read one gives an error.
type Input struct {
	Name string // as in messages
	Data []byte // the whole file, nil if it is read from the disk

	file io.ReaderAt
	size int64
	// sibling opens the file beside it that has the same name with another
	// extension; nil where there can be none.
	sibling func(ext string) (Input, error)
	opt     Options
}

// Size returns the number of bytes.
func (in Input) Size() int64 {
	if in.file == nil {
		return int64(len(in.Data))
	}
	return in.size
}

// block returns n bytes from off on, fewer at the end of the file. It uses buf
// if it must read; the result is good until buf is used again.
func (in Input) block(off int64, n int, buf []byte) ([]byte, error) {
	n = int(min(int64(n), max(in.Size()-off, 0)))
	if in.file == nil {
		return in.Data[off : off+int64(n)], nil
	}
	if cap(buf) < n {
		buf = make([]byte, n)
	}
	got, err := in.file.ReadAt(buf[:n], off)
	if got < n {
		if err == nil || errors.Is(err, io.EOF) {
			err = in.fault(fmt.Sprintf("the file became shorter while it was read: it ends at byte %d of %d", off+int64(got), in.size),
				"a file that stands still", "read it again when nothing writes it any more")
		}
		return nil, err
	}
	return buf[:n], nil
}

// head returns the bytes by which a format is recognised.
func (in Input) head() ([]byte, error) { return in.block(0, headSize, nil) }

// bytes returns the whole file.
func (in Input) bytes() ([]byte, error) {
	if in.file == nil {
		return in.Data, nil
	}
	return in.block(0, int(in.size), nil)
}

// limited returns the input without what stands behind size.
func (in Input) limited(size int64) Input {
	if in.file == nil {
		in.Data = in.Data[:size]
	} else {
		in.size = size
	}
	return in
}

// fault is an error of the file as a whole.
func (in Input) fault(found, expected, do string) *ParseError {
	return &ParseError{File: in.Name, Offset: -1, Found: found, Expected: expected, Do: do}
}

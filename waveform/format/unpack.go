package format

import (
	"bytes"
	"compress/bzip2"
	"compress/gzip"
	"errors"
	"fmt"
	"io"

	"github.com/klauspost/compress/zstd"
)

// Bounds of what a packed file may unpack to, so that one made to exhaust the
// memory is refused: no more than maxUnpacked, and beyond what is little anyway
// no more than maxRatio times its packed size. Captures pack ten to one.
const (
	maxUnpacked = 2 << 30
	maxRatio    = 200
	littleBytes = 64 << 20
)

// packing returns the name of the packing that the first bytes show, "" if
// none.
func packing(b []byte) string {
	switch {
	case bytes.HasPrefix(b, []byte{0x1f, 0x8b}):
		return "gzip"
	case bytes.HasPrefix(b, []byte{0x28, 0xb5, 0x2f, 0xfd}):
		return "zstd"
	case bytes.HasPrefix(b, []byte("BZh")):
		return "bzip2"
	}
	return ""
}

// isZip tells an archive by its first bytes, also an empty one.
func isZip(b []byte) bool {
	return bytes.HasPrefix(b, []byte("PK\x03\x04")) || bytes.HasPrefix(b, []byte("PK\x05\x06"))
}

// unpacker returns a reader of what r holds packed.
func unpacker(r io.Reader, how string) (io.Reader, error) {
	switch how {
	case "gzip":
		return gzip.NewReader(r)
	case "zstd":
		// A window of 128 MB serves all but the highest settings, and bounds
		// what a hostile header can ask for.
		return zstd.NewReader(r, zstd.WithDecoderConcurrency(1), zstd.WithDecoderMaxWindow(128<<20), zstd.WithDecoderMaxMemory(maxUnpacked))
	}
	return bzip2.NewReader(r), nil
}

// unpack returns all that r holds packed; size is the packed size.
func unpack(r io.Reader, how string, size int64) ([]byte, error) {
	z, err := unpacker(r, how)
	if err != nil {
		return nil, err
	}
	if c, ok := z.(*zstd.Decoder); ok {
		defer c.Close()
	}
	return readBounded(z, size)
}

// readBounded reads all of r, which stands packed in size bytes.
func readBounded(r io.Reader, size int64) ([]byte, error) {
	bound := min(max(int64(littleBytes), size*maxRatio), maxUnpacked)
	var b bytes.Buffer
	n, err := io.Copy(&b, io.LimitReader(r, bound+1))
	if err == nil && n > bound {
		err = fmt.Errorf("unpacks to more than %d MB from %d bytes", bound>>20, size)
	}
	return b.Bytes(), err
}

// unpackHead returns the first bytes of what b, the start of a packed file,
// holds.
func unpackHead(b []byte, how string) ([]byte, error) {
	z, err := unpacker(bytes.NewReader(b), how)
	if err != nil {
		return nil, err
	}
	if c, ok := z.(*zstd.Decoder); ok {
		defer c.Close()
	}
	head, err := io.ReadAll(io.LimitReader(z, headSize))
	if errors.Is(err, io.ErrUnexpectedEOF) && len(head) > 0 {
		err = nil // the rest of the file is not there
	}
	return head, err
}

// packingFault puts what is wrong with a packed file into words.
func packingFault(err error) string {
	if errors.Is(err, io.ErrUnexpectedEOF) || errors.Is(err, io.EOF) {
		return "is cut short"
	}
	return "is damaged (" + err.Error() + ")"
}

package format

import (
	"bytes"
	"compress/gzip"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"os"
	"path"

	"slewbook/waveform"
)

// Read reads the captures of the source: one, or one for each segment. Errors
// of content are *ParseError.
func (s Source) Read() ([]*waveform.Capture, error) {
	var parts [][]*waveform.Capture
	var sums []string
	for _, p := range s.paths() {
		captures, sum, err := readFile(p)
		if err != nil {
			return nil, err
		}
		parts = append(parts, captures)
		sums = append(sums, sum)
	}
	captures := parts[0]
	if len(parts) > 1 {
		c, err := s.merge(parts)
		if err != nil {
			return nil, err
		}
		captures = []*waveform.Capture{c}
	}
	for i, c := range captures {
		c.Name = s.Name
		if len(captures) > 1 {
			c.Name = fmt.Sprintf("%s#%d", s.Name, i+1)
		}
		c.Files, c.SHA256 = s.Files, sums
		if err := c.Check(); err != nil {
			return nil, &ParseError{File: s.paths()[0], Offset: -1, Found: err.Error()}
		}
	}
	return captures, nil
}

// merge puts the channels of one shot, a file each, into one capture.
func (s Source) merge(parts [][]*waveform.Capture) (*waveform.Capture, error) {
	all := parts[0][0]
	files := s.paths()
	names := make([]string, len(parts))
	for i, p := range parts {
		if len(p) != 1 || len(p[0].Traces) != 1 {
			return nil, &ParseError{File: files[i], Offset: -1, Found: "a file that does not hold one channel", Expected: "one channel as in the files beside it"}
		}
		a, b := all.Traces[0], p[0].Traces[0]
		if b.T0 != a.T0 || b.Dt != a.Dt || len(b.Y) != len(a.Y) {
			return nil, &ParseError{File: files[i], Offset: -1,
				Found:    fmt.Sprintf("%d samples from %s every %s", len(b.Y), seconds(b.T0), seconds(b.Dt)),
				Expected: fmt.Sprintf("the time axis of %s: %d samples from %s every %s", path.Base(s.Files[0]), len(a.Y), seconds(a.T0), seconds(a.Dt)),
				Do:       "keep the files of one shot in one folder"}
		}
		names[i] = b.Name
	}
	keep := distinct(names)
	for i, p := range parts {
		tr := p[0].Traces[0]
		if !keep {
			tr.Name = stem(path.Base(s.Files[i]))
		}
		if i == 0 {
			continue
		}
		all.Traces = append(all.Traces, tr)
		all.Warnings = append(all.Warnings, p[0].Warnings...)
	}
	return all, nil
}

// readFile reads one file and returns the hash of its bytes as on disk.
func readFile(name string) (captures []*waveform.Capture, sum string, err error) {
	raw, err := os.ReadFile(name)
	if err != nil {
		return nil, "", err
	}
	hash := sha256.Sum256(raw)
	data := raw
	if isGzip(raw) {
		if data, err = gunzip(raw, -1); err != nil {
			return nil, "", &ParseError{File: name, Offset: -1, Found: "a gzip file that " + gzipFault(err), Do: "copy it again from the instrument"}
		}
	}
	f, ok := pick(data, name)
	if !ok {
		return nil, "", &ParseError{File: name, Offset: -1, Found: "bytes of no known format, which start " + quote(data[:min(len(data), 12)]),
			Expected: "a text table, plain or packed as .gz"}
	}
	captures, err = f.Read(Input{Name: name, Data: data})
	return captures, hex.EncodeToString(hash[:]), err
}

// readHead returns the first bytes of a file, unpacked.
func readHead(name string) ([]byte, error) {
	f, err := os.Open(name)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	head, err := io.ReadAll(io.LimitReader(f, headSize))
	if err != nil || !isGzip(head) {
		return head, err
	}
	// The packed head unpacks to at least as much, save where the file ends.
	head, err = gunzip(head, headSize)
	if errors.Is(err, io.ErrUnexpectedEOF) {
		err = nil
	}
	return head, err
}

func isGzip(b []byte) bool { return bytes.HasPrefix(b, []byte{0x1f, 0x8b}) }

// gunzip unpacks b, up to limit bytes if that is not negative.
func gunzip(b []byte, limit int64) ([]byte, error) {
	z, err := gzip.NewReader(bytes.NewReader(b))
	if err != nil {
		return nil, err
	}
	var r io.Reader = z
	if limit >= 0 {
		r = io.LimitReader(z, limit)
	}
	return io.ReadAll(r)
}

func gzipFault(err error) string {
	if errors.Is(err, io.ErrUnexpectedEOF) || errors.Is(err, io.EOF) {
		return "is cut short"
	}
	return "is damaged (" + err.Error() + ")"
}

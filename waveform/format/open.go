package format

import (
	"archive/zip"
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io"
	"os"
	"path"
	"path/filepath"
	"strings"
)

// opened is a file under reading and what its bytes on the disk hash to.
type opened struct {
	Input
	sum  func() (string, error) // waits for the hash
	done func() error
}

// openFile opens a file, unpacking it into memory if it is packed. The hash is
// taken beside the reading.
func openFile(name string, opt Options) (*opened, error) {
	f, err := os.Open(name)
	if err != nil {
		return nil, err
	}
	info, err := f.Stat()
	if err != nil {
		f.Close()
		return nil, err
	}
	o := &opened{Input: Input{Name: name, file: f, size: info.Size(), opt: opt}, done: f.Close}
	o.sum = hashBeside(f, info.Size())
	o.sibling = func(ext string) (Input, error) {
		found, err := siblingOf(name, ext)
		if err != nil {
			return Input{}, err
		}
		data, err := os.ReadFile(found)
		return Input{Name: found, Data: data, opt: opt}, err
	}
	head, err := o.block(0, 16, nil)
	if err != nil {
		return o, err
	}
	if how := packing(head); how != "" {
		data, err := unpack(io.NewSectionReader(f, 0, info.Size()), how, info.Size())
		if err != nil {
			return o, o.fault("a "+how+" file that "+packingFault(err), "", "copy it again from the instrument")
		}
		o.Data, o.file = data, nil
	}
	return o, nil
}

// hashBeside hashes the first size bytes on a goroutine of its own.
func hashBeside(r io.ReaderAt, size int64) func() (string, error) {
	type result struct {
		sum string
		err error
	}
	out := make(chan result, 1)
	go func() {
		h := sha256.New()
		_, err := io.CopyBuffer(h, struct{ io.Reader }{io.NewSectionReader(r, 0, size)}, make([]byte, 256<<10))
		out <- result{hex.EncodeToString(h.Sum(nil)), err}
	}()
	return func() (string, error) {
		r := <-out
		return r.sum, r.err
	}
}

// siblingOf finds the file beside name with another extension, in either case.
func siblingOf(name, ext string) (string, error) {
	base := strings.TrimSuffix(name, filepath.Ext(name))
	for _, e := range []string{ext, strings.ToUpper(ext)} {
		if _, err := os.Stat(base + e); err == nil {
			return base + e, nil
		}
	}
	return "", fmt.Errorf("there is no file %s%s beside it", filepath.Base(base), ext)
}

// member opens one file of an archive. It stands in memory: no name inside an
// archive ever becomes a path on the disk.
func member(z *zip.Reader, archive, name string, opt Options) (Input, error) {
	in := Input{Name: archive + "/" + name, opt: opt}
	for _, f := range z.File {
		if f.Name != name {
			continue
		}
		r, err := f.Open()
		if err != nil {
			return in, in.fault("a file in an archive that "+packingFault(err), "", "pack it again")
		}
		defer r.Close()
		in.Data, err = readBounded(r, int64(f.CompressedSize64))
		if how := packing(in.Data); err == nil && how != "" {
			in.Data, err = unpack(bytes.NewReader(in.Data), how, int64(len(in.Data)))
		}
		if err != nil {
			return in, in.fault("a file in an archive that "+packingFault(err), "", "pack it again")
		}
		in.sibling = func(ext string) (Input, error) {
			base := strings.TrimSuffix(name, path.Ext(name))
			for _, f := range z.File {
				if strings.EqualFold(f.Name, base+ext) {
					return member(z, archive, f.Name, opt)
				}
			}
			return Input{}, fmt.Errorf("there is no file %s%s beside it", path.Base(base), ext)
		}
		return in, nil
	}
	return in, in.fault("no such file in the archive", "", "")
}

// firstBytes returns the first bytes of a file as they stand on the disk.
func firstBytes(name string) ([]byte, error) {
	f, err := os.Open(name)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	b := make([]byte, 16)
	n, err := io.ReadFull(f, b)
	if err == io.ErrUnexpectedEOF || err == io.EOF {
		err = nil
	}
	return b[:n], err
}

// headOf returns the first bytes of a file, unpacked.
func headOf(name string) ([]byte, error) {
	f, err := os.Open(name)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	return readHead(f)
}

func readHead(r io.Reader) ([]byte, error) {
	head, err := io.ReadAll(io.LimitReader(r, headSize))
	if how := packing(head); err == nil && how != "" {
		return unpackHead(head, how)
	}
	return head, err
}

package format

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"os"
)

// Sums returns the SHA-256 of each file of the source, as Read gives them to its
// captures, without reading any samples.
func (s Source) Sums() ([]string, error) {
	var sums []string
	for _, p := range s.paths() {
		sum, err := hashFile(p)
		if err != nil {
			return nil, err
		}
		sums = append(sums, sum)
	}
	return sums, nil
}

func hashFile(path string) (string, error) {
	f, err := os.Open(path)
	if err != nil {
		return "", err
	}
	defer f.Close()
	info, err := f.Stat()
	if err != nil {
		return "", err
	}
	return hashBeside(f, info.Size())()
}

// Content identifies all that decides what Read gives, names aside: the bytes of
// the files, whose sums are given, the members of an archive, and how they are
// read.
func (s Source) Content(sums []string) string {
	opt := s.opt
	opt.Separate = false // it decides which files are a source, which is known here
	sum := sha256.Sum256(fmt.Appendf(nil, "%q %q %v", sums, s.members, opt))
	return hex.EncodeToString(sum[:16])
}

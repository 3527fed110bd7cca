package main

import (
	"crypto/sha256"
	"encoding/binary"
	"fmt"
)

// shard is one of several parts of a campaign, each for a machine of its own. All
// is in the zero value.
type shard struct{ k, of uint64 }

// Set reads "3/16". Set, String and Type implement pflag.Value.
func (s *shard) Set(text string) error {
	var rest string
	n, _ := fmt.Sscanf(text+" ", "%d/%d%s", &s.k, &s.of, &rest)
	if n != 2 || s.k < 1 || s.k > s.of {
		return fmt.Errorf("%q; expected K/N with K from 1 to N, such as 3/16", text)
	}
	return nil
}

// String writes it as Set reads it.
func (s *shard) String() string {
	if s.of == 0 {
		return ""
	}
	return fmt.Sprintf("%d/%d", s.k, s.of)
}

// Type names the form.
func (s *shard) Type() string { return "K/N" }

// in tells which sources are in the shard: those to which the hash of their name
// falls, which is the same on every machine that sees the same folder.
func (s *shard) in(sources []shotSource) []shotSource {
	if s.of == 0 {
		return sources
	}
	var out []shotSource
	for _, source := range sources {
		sum := sha256.Sum256([]byte(source.Name))
		if binary.BigEndian.Uint64(sum[:8])%s.of == s.k-1 {
			out = append(out, source)
		}
	}
	return out
}

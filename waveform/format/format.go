// Package format finds capture files and reads them. One file of the package
// describes one format: how it is recognised and how it is read. A layout is
// named by its shape, never by who makes the instrument.
//
// All prefixes and scales are applied here, so that every trace that leaves
// the package is in SI base units. What cannot be read with certainty is
// refused with a ParseError, or read with a warning on the capture; a file
// with nothing wrong carries none.
package format

import (
	"fmt"
	"strings"

	"slewbook/waveform"
)

// Format is one kind of file.
type Format struct {
	Name      string                                      // in words, for lists
	Recognise func(head []byte, name string) bool         // from the first bytes, unpacked, and the file's name
	Read      func(in Input) ([]*waveform.Capture, error) // errors are *ParseError
}

// headSize is how many bytes a format is recognised by, and how far down a text
// its first row may stand.
const headSize = 256 << 10

// Formats lists the formats in the order in which they are tried. A format
// that is recognised by a mark of its own stands before the text reader.
func Formats() []Format {
	return []Format{npyFormat, npzFormat, matFormat, comtradeFormat, spiceFormat, parquetFormat, hdf5Format, blockFormat, textFormat}
}

// formatNames lists the formats in words.
func formatNames() string {
	var names []string
	for _, f := range Formats() {
		names = append(names, f.Name)
	}
	return strings.Join(names, ", ")
}

// pick returns the format that recognises the file.
func pick(head []byte, name string) (Format, bool) {
	for _, f := range Formats() {
		if f.Recognise(head[:min(len(head), headSize)], name) {
			return f, true
		}
	}
	return Format{}, false
}

// ParseError says why a file could not be read: where, what was found there,
// what was expected and what to do about it.
type ParseError struct {
	File     string
	Line     int   // from 1, 0 where lines do not apply
	Offset   int64 // in bytes, -1 where it does not apply
	Found    string
	Expected string // may be empty
	Do       string // may be empty

	not string // what the file is, where it is no record of samples at all
}

// Error writes "file:line: found; expected ...: do".
func (e *ParseError) Error() string {
	var b strings.Builder
	b.WriteString(e.File)
	if e.Line > 0 {
		fmt.Fprintf(&b, ":%d", e.Line)
	} else if e.Offset > 0 {
		fmt.Fprintf(&b, " (byte %d)", e.Offset)
	}
	b.WriteString(": " + e.Found)
	if e.Expected != "" {
		b.WriteString("; expected " + e.Expected)
	}
	if e.Do != "" {
		b.WriteString("; " + e.Do)
	}
	return b.String()
}

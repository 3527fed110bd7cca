package format

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"unicode/utf16"
	"unicode/utf8"
)

// isText tells whether the head is text: UTF-8, UTF-16 or an 8-bit code without
// control characters. NUL bytes are allowed at the end, where some writers pad.
func isText(head []byte, _ string) bool {
	if utf16Order(head) != nil {
		return true
	}
	head = bytes.TrimRight(head, "\x00\x1a")
	high := 0
	for _, c := range head {
		if isControl(rune(c)) {
			return false
		}
		if c >= utf8.RuneSelf {
			high++
		}
	}
	return high <= len(head)/4 || utf8.Valid(head[:max(len(head)-utf8.UTFMax, 0)])
}

// leastText is how many characters at the start of a file show that it was
// meant as text.
const leastText = 64

// isControl tells a character that stands in no text.
func isControl(c rune) bool {
	return (c < ' ' && c != '\t' && c != '\n' && c != '\r' && c != '\f') || c == 0x7f
}

// utf16Order returns the byte order of UTF-16 text, nil for other text. Without
// a byte order mark the zero bytes of its digits tell.
func utf16Order(head []byte) binary.ByteOrder {
	switch {
	case bytes.HasPrefix(head, []byte{0xff, 0xfe}):
		if !plainUTF16(head[2:], binary.LittleEndian) {
			return nil
		}
		return binary.LittleEndian
	case bytes.HasPrefix(head, []byte{0xfe, 0xff}):
		if !plainUTF16(head[2:], binary.BigEndian) {
			return nil
		}
		return binary.BigEndian
	case len(head) >= 8 && plainUTF16(head, binary.LittleEndian):
		return binary.LittleEndian
	case len(head) >= 8 && plainUTF16(head, binary.BigEndian):
		return binary.BigEndian
	}
	return nil
}

// plainUTF16 tells whether the first characters are those of a text in that
// order: nearly all of them ASCII, none a control character.
func plainUTF16(b []byte, order binary.ByteOrder) bool {
	n, ascii := min(len(b)/2, 64), 0
	for k := range n {
		switch c := order.Uint16(b[2*k:]); {
		case c < ' ' && c != '\t' && c != '\n' && c != '\r':
			return false
		case c < utf8.RuneSelf:
			ascii++
		}
	}
	return ascii > 0 && ascii >= n*3/4
}

// decodeUTF16 turns the whole file into UTF-8. A byte that was lost shifts all
// behind it; then most characters there are none of a table.
func decodeUTF16(in Input, order binary.ByteOrder) ([]byte, *ParseError) {
	data, err := in.bytes()
	if err != nil {
		return nil, in.fault(err.Error(), "", "")
	}
	if len(data)%2 != 0 {
		return nil, &ParseError{Found: fmt.Sprintf("UTF-16 text of an odd number of bytes, %d: one was lost", len(data)), Expected: "two bytes for each character",
			Do: "copy the file again"}
	}
	out := make([]byte, 0, len(data)/2+len(data)/16)
	for k := 0; k+1 < len(data); k += 2 {
		r := rune(order.Uint16(data[k:]))
		if utf16.IsSurrogate(r) && k+3 < len(data) {
			r = utf16.DecodeRune(r, rune(order.Uint16(data[k+2:])))
			k += 2
		}
		if k == 0 && r == 0xfeff {
			continue
		}
		out = utf8.AppendRune(out, r)
	}
	return oneLineEnd(out), nil
}

// loneReturns tells whether some lines end in CR alone and others do not.
func loneReturns(head []byte) bool {
	if bytes.IndexByte(head, '\n') < 0 {
		return false
	}
	for i := 0; ; i++ {
		n := bytes.IndexByte(head[i:], '\r')
		if n < 0 || i+n+1 >= len(head) {
			return false
		}
		if i += n; head[i+1] != '\n' && !(head[i+1] == '\r' && i+2 < len(head) && head[i+2] == '\n') {
			return true
		}
	}
}

// oneLineEnd returns the text with LF at the end of every line.
func oneLineEnd(b []byte) []byte {
	b = bytes.ReplaceAll(b, []byte("\r\r\n"), []byte("\n"))
	b = bytes.ReplaceAll(b, []byte("\r\n"), []byte("\n"))
	return bytes.ReplaceAll(b, []byte("\r"), []byte("\n"))
}

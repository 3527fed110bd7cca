package format

import (
	"encoding/binary"
	"math/bits"
)

// pattern is how a cell is printed, its sign left out: so many digits before
// and behind the decimal mark, and then the separator or the mark of an
// exponent. A byte of the cell XOR text is the value of a digit, and 0 at all
// other places; plus slack it stays below 128 only if it is that.
type pattern struct {
	text, slack, look [2]uint64 // look has the highest bit of each byte that counts

	size     int    // bytes, what ends the number included: up to 8 without a decimal mark, 16 with one
	whole    uint64 // the bytes before the decimal mark
	lead     uint8  // bits by which the first eight digits move to the end of a word
	rest     uint64 // bytes of the digits behind the first eight
	lead1    uint8  // as lead, for those
	tens     uint64 // what the first eight digits count then
	exp      int    // power of ten of the last digit, the shift to the unit included
	scale    scale  // that power, where no exponent follows
	exponent bool
}

// noPattern holds for no cell.
var noPattern = pattern{slack: [2]uint64{highs, highs}, look: [2]uint64{highs, highs}}

// cellWindow is how many bytes a cell of a pattern can take: sign, pattern, and
// an exponent of two digits with its sign and what ends it; it bounds what is
// read at once.
const cellWindow = 24

const (
	ones    = 0x0101010101010101
	noughts = '0' * ones
	highs   = 0x80 * ones
	// What brings all but the values of digits, and all but 0, to 128 or more.
	pastDigits = (128 - 10) * ones
	pastZero   = 127 * ones
)

// strays tells whether word k of a cell XOR text is not of the pattern.
func (p *pattern) strays(k int, x uint64) bool { return (x+p.slack[k]|x)&p.look[k] != 0 }

func word8(b []byte) uint64 { return binary.LittleEndian.Uint64(b) }

// eight returns the number that eight digits make, the first in the lowest byte.
// Pairs, fours and eights are joined by one multiplication each.
func eight(w uint64) uint64 {
	w = w * (10<<8 + 1) >> 8 & 0x00ff00ff00ff00ff
	w = w * (100<<16 + 1) >> 16 & 0x0000ffff0000ffff
	return w * (10000<<32 + 1) >> 32
}

// find returns the pattern of the cell at the start of u, nil if it has none:
// more than seven digits before the decimal mark, more than 14 in all, what is no
// number. The cell need not end well.
func (c *scanColumn) find(u []byte, point byte) *pattern {
	if len(u) < cellWindow {
		return nil
	}
	signed, _ := sign(u[0])
	u = u[signed:]
	x0, x1 := word8(u)^noughts, word8(u[8:])^noughts
	m0, m1 := (x0+pastDigits|x0)&highs, (x1+pastDigits|x1)&highs // what is no digit
	z := x0 ^ uint64(point^'0')*ones
	stops := (z + pastZero | z) & m0 // and no decimal mark
	whole := bits.TrailingZeros64(m0) / 8
	size := bits.TrailingZeros64(stops) / 8
	if size == 8 {
		size += bits.TrailingZeros64(m1) / 8
	}
	if whole > 7 || size > 15 {
		return nil
	}
	p := c.known[whole][size]
	if end := u[size]; p == nil || byte(p.text[size/8]>>(size%8*8)) != end {
		if p = newPattern(whole, size, point, end, c); p != nil {
			c.known[whole][size] = p
		}
	}
	return p
}

// newPattern returns the pattern of a cell of column c of so many digits before
// the decimal mark and so many characters before the end, nil if it is none.
func newPattern(whole, size int, point, end byte, c *scanColumn) *pattern {
	digits := size
	if whole < size {
		digits--
	}
	p := &pattern{size: size + 1, exponent: end|0x20 == 'e' || end|0x20 == 'd', exp: c.shift - (digits - whole)}
	if digits == 0 || (!p.exponent && (end != c.end || p.exp < -maxScale || p.exp > maxScale)) {
		return nil
	}
	if !p.exponent {
		p.scale = scales[p.exp+maxScale]
	}
	for k := range 16 {
		text, slack := byte('0'), byte(pastDigits&0xff)
		switch {
		case k == size:
			text, slack = end, pastZero&0xff
		case k == whole:
			text, slack = point, pastZero&0xff
		case k > size:
			continue
		}
		p.text[k/8] |= uint64(text) << (k % 8 * 8)
		p.slack[k/8] |= uint64(slack) << (k % 8 * 8)
		p.look[k/8] |= 0x80 << (k % 8 * 8)
	}
	p.whole = 1<<(8*whole) - 1
	if p.tens = 1; digits <= 8 {
		p.lead = uint8(64 - 8*digits)
	} else {
		p.rest = 1<<(8*(digits-8)) - 1
		p.lead1 = uint8(128 - 8*digits)
		for range digits - 8 {
			p.tens *= 10
		}
	}
	return p
}

// exponent reads the two digits of an exponent, their sign, and what ends the
// cell at the start of b.
func (c *scanColumn) exponent(b []byte) (exp int, ok bool) {
	x := binary.LittleEndian.Uint32(b) ^ ('+' | '0'<<8 | '0'<<16 | uint32(c.end)<<24)
	const minus = '+' ^ '-'
	strays := (x+(pastDigits&0xffff00|127<<24)|x)&(highs&0xffffff00) | x&(0xff&^minus)
	negative := int(x >> 1 & 1)
	exp = int(x >> 8 * (10<<8 + 1) >> 8 & 0xff)
	return (exp ^ -negative) + negative, strays == 0
}

// scale is a power of ten: a number times mul over div, one of which is 1.
type scale struct{ mul, div float64 }

// maxScale bounds the powers of ten that a float64 holds exactly. One
// multiplication or division by such a one rounds a mantissa below 2^53
// correctly; see decimal.float.
const maxScale = len(pow10) - 1

var scales = newScales()

func newScales() (s [2*maxScale + 1]scale) {
	for k, p := range pow10 {
		s[maxScale+k], s[maxScale-k] = scale{p, 1}, scale{1, p}
	}
	return s
}

package format

import (
	"encoding/binary"
	"math"
	"math/bits"
)

// number is what the fast path finds in a cell: mant·10^exp.
type number struct {
	mant uint64
	exp  int
	sign uint64 // 1 for a minus
}

// scanNumber reads a plain decimal number of at most 19 digits at b[i:] and
// returns where it ends; i if there is none or if it is of another kind, for
// scanDecimal to look at. It is scanDecimal without the rare cases, and what
// both read is the same.
func scanNumber(b []byte, i int, point byte) (d number, end int) {
	start := i
	if i >= len(b) {
		return d, start
	}
	if b[i] == '-' { // no branch: noise has no rhythm that a processor could guess
		d.sign = 1
	}
	i += int(d.sign)
	if b[start] == '+' {
		i++
	}
	first, mant := i, uint64(0)
	for i < len(b) && b[i]-'0' <= 9 { // few before the point
		mant = mant*10 + uint64(b[i]-'0')
		i++
	}
	digits := i - first
	if i < len(b) && b[i] == point {
		first = i + 1
		mant, i = scanDigits(b, first, mant)
		d.exp = first - i
		digits += i - first
	}
	if digits == 0 || digits > maxDigits {
		return d, start
	}
	d.mant = mant
	if i+2 < len(b) && (b[i]|0x20 == 'e' || b[i]|0x20 == 'd') {
		c, j := b[i+1], i+1
		if c == '-' || c == '+' {
			j++
		}
		e, first := 0, j
		for j < len(b) && b[j]-'0' <= 9 && j < first+4 {
			e = e*10 + int(b[j]-'0')
			j++
		}
		if j == first || (j < len(b) && b[j]-'0' <= 9) {
			return d, start
		}
		if c == '-' {
			e = -e
		}
		d.exp += e
		i = j
	}
	return d, i
}

// scanDigits appends the digits at b[i:] to mant and returns where they end. It
// takes up to eight in one step: a loop over single digits would be guessed
// wrong by the processor at the end of nearly every number.
func scanDigits(b []byte, i int, mant uint64) (uint64, int) {
	const (
		zeros = 0x3030303030303030
		sixes = 0x0606060606060606
		highs = 0xf0f0f0f0f0f0f0f0
	)
	for i+8 <= len(b) {
		w := binary.LittleEndian.Uint64(b[i:]) ^ zeros // digits become 0 to 9, all else more
		n := bits.TrailingZeros64((w|(w+sixes))&highs) >> 3
		if n == 0 {
			return mant, i
		}
		// The digits move to the end, zeros before them; then pairs, fours and
		// eights are joined by one multiplication each.
		w <<= uint(64-8*n) & 63
		w = w * (10<<8 + 1) >> 8 & 0x00ff00ff00ff00ff
		w = w * (100<<16 + 1) >> 16 & 0x0000ffff0000ffff
		w = w * (10000<<32 + 1) >> 32
		mant = mant*tens[n&15] + w
		i += n
		if n < 8 {
			return mant, i
		}
	}
	for i < len(b) && b[i]-'0' <= 9 {
		mant = mant*10 + uint64(b[i]-'0')
		i++
	}
	return mant, i
}

var tens = [16]uint64{1, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8}

// float returns the number with its decimal point moved by shift, rounded once,
// and whether that could be done exactly here; see decimal.float.
func (d number) float(shift int) (float64, bool) {
	exp := d.exp + shift
	if d.mant >= 1<<53 || exp < -22 || exp > 22 {
		return 0, false
	}
	f := math.Float64frombits(math.Float64bits(float64(d.mant)) | d.sign<<63)
	if exp < 0 {
		return f / pow10[-exp], true
	}
	return f * pow10[exp], true
}

package format

import "encoding/binary"

// number is what the fast path finds in a cell: mant·10^exp.
type number struct {
	mant uint64
	exp  int
	neg  bool
}

// scanNumber reads a plain decimal number of at most 19 digits at b[i:] and
// returns where it ends; i if there is none or if it is of another kind, for
// scanDecimal to look at. It is scanDecimal without the rare cases, and what
// both read is the same.
func scanNumber(b []byte, i int, point byte) (d number, end int) {
	start := i
	if i < len(b) && (b[i] == '-' || b[i] == '+') {
		d.neg = b[i] == '-'
		i++
	}
	first := i
	mant := uint64(0)
	for i < len(b) && b[i]-'0' <= 9 {
		mant = mant*10 + uint64(b[i]-'0')
		i++
	}
	digits := i - first
	if i < len(b) && b[i] == point {
		i++
		first = i
		for i+8 <= len(b) {
			v, ok := eightDigits(binary.LittleEndian.Uint64(b[i:]))
			if !ok {
				break
			}
			mant = mant*1e8 + v
			i += 8
		}
		for i < len(b) && b[i]-'0' <= 9 {
			mant = mant*10 + uint64(b[i]-'0')
			i++
		}
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
		if j == first {
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

// eightDigits turns eight bytes of digits into their number: pairs, then fours,
// then eights are joined by one multiplication each.
func eightDigits(v uint64) (uint64, bool) {
	const zeros = 0x3030303030303030
	low := v ^ zeros // digits become 0 to 9, all else more
	if (low|(low+0x0606060606060606))&0xf0f0f0f0f0f0f0f0 != 0 {
		return 0, false
	}
	low = low * (10<<8 + 1) >> 8 & 0x00ff00ff00ff00ff
	low = low * (100<<16 + 1) >> 16 & 0x0000ffff0000ffff
	low = low * (10000<<32 + 1) >> 32
	return low, true
}

// float returns the number with its decimal point moved by shift, rounded once,
// and whether that could be done exactly here; see decimal.float.
func (d number) float(shift int) (float64, bool) {
	exp := d.exp + shift
	if d.mant >= 1<<53 || exp < -22 || exp > 22 {
		return 0, false
	}
	f := float64(d.mant)
	if d.neg {
		f = -f
	}
	if exp < 0 {
		return f / pow10[-exp], true
	}
	return f * pow10[exp], true
}

package format

import (
	"math"
	"strconv"
)

// decimal is a printed number: ±mant·10^exp.
type decimal struct {
	mant   uint64
	exp    int  // exponent of the last printed digit
	digits int  // significant digits, leading zeros left out
	neg    bool // also of -0
}

// maxDigits is how many digits always fit a uint64.
const maxDigits = 19

// scanDecimal reads a decimal number at the start of b, where point is the
// decimal mark, and returns its length; 0 if there is none. It takes what
// strconv.ParseFloat takes, save hexadecimal and words, and the exponent mark D
// of Fortran as well. A number of more than 19 digits keeps its value in the
// text only: digits tells.
func scanDecimal(b []byte, point byte) (d decimal, n int) {
	i := 0
	if i < len(b) && (b[i] == '-' || b[i] == '+') {
		d.neg = b[i] == '-'
		i++
	}
	start := i
	for ; i < len(b); i++ {
		c := b[i] - '0'
		if c > 9 {
			break
		}
		d.add(c)
	}
	printed := i - start
	if i < len(b) && b[i] == point {
		i++
		first := i
		for ; i < len(b); i++ {
			c := b[i] - '0'
			if c > 9 {
				break
			}
			d.add(c)
		}
		d.exp = first - i
		printed += i - first
	}
	if printed == 0 {
		return decimal{}, 0
	}
	if e, m := scanExponent(b[i:]); m > 0 {
		d.exp += e
		i += m
	}
	return d, i
}

// add appends a digit.
func (d *decimal) add(c byte) {
	if d.mant != 0 || c != 0 {
		d.digits++
	}
	if d.digits <= maxDigits {
		d.mant = d.mant*10 + uint64(c)
	}
}

// scanExponent reads "e-09" or "D-09" at the start of b and returns its length, 0 if
// there is none.
func scanExponent(b []byte) (exp, n int) {
	if len(b) < 2 || (b[0]|0x20 != 'e' && b[0]|0x20 != 'd') {
		return 0, 0
	}
	i, neg := 1, false
	if b[i] == '-' || b[i] == '+' {
		neg = b[i] == '-'
		i++
	}
	first := i
	for ; i < len(b) && b[i]-'0' <= 9; i++ {
		if exp < 1<<20 { // far beyond any float64; keeps exp from overflowing
			exp = exp*10 + int(b[i]-'0')
		}
	}
	if i == first {
		return 0, 0
	}
	if neg {
		exp = -exp
	}
	return exp, i
}

// pow10 holds the powers of ten that a float64 holds exactly.
var pow10 = [...]float64{
	1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11,
	1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22,
}

// float returns d·10^shift, rounded once: the value that strconv.ParseFloat
// gives for the same digits. text is what d was scanned from.
//
// With a mantissa below 2^53 and a power of ten up to 10^22 both operands are
// exact, so one multiplication or division rounds correctly (Clinger 1990,
// from memory). All else goes through strconv.
func (d decimal) float(text []byte, point byte, shift int) float64 {
	exp := d.exp + shift
	if d.mant >= 1<<53 || d.digits > maxDigits || exp < -22 || exp > 22 {
		if d.mant != 0 {
			return slowFloat(text, point, shift)
		}
		exp = 0
	}
	f := float64(d.mant)
	if d.neg {
		f = -f
	}
	if exp < 0 {
		return f / pow10[-exp]
	}
	return f * pow10[exp]
}

// slowFloat is float by strconv. A number beyond float64 is infinite, as in
// strconv.
func slowFloat(text []byte, point byte, shift int) float64 {
	var space [64]byte
	b := space[:0]
	exp := shift
	for i, c := range text {
		if c == point {
			c = '.'
		} else if c|0x20 == 'e' || c|0x20 == 'd' {
			e, _ := scanExponent(text[i:])
			exp += e
			break
		}
		b = append(b, c)
	}
	b = append(b, 'e')
	b = strconv.AppendInt(b, int64(exp), 10)
	f, err := strconv.ParseFloat(string(b), 64)
	if err != nil && !math.IsInf(f, 0) {
		panic("format: scanDecimal accepted " + strconv.Quote(string(text)))
	}
	return f
}

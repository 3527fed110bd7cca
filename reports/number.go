package reports

import (
	"math"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"slewbook/waveform/unit"
)

// significant is how many digits a value gets whose uncertainty is not known.
const significant = 4

// decimals returns how many decimals x supports when it is shown in a unit of
// that size; negative means that tens, hundreds and so on are rounded. With a
// known standard uncertainty u the last digit is the second one of the expanded
// uncertainty 2u, as the GUM (JCGM 100:2008, 7.2.6) advises; otherwise x gets
// four significant digits.
func decimals(x, u, size float64) int {
	if known(u) {
		return 1 - exponent(2*u/size, 2)
	}
	return significant - 1 - exponent(x/size, significant)
}

// known tells whether a standard uncertainty has been computed.
func known(u float64) bool { return u > 0 && !math.IsInf(u, 1) }

// exponent returns the power of ten of the first digit of x once x is rounded
// to that many digits; 0 for zero.
func exponent(x float64, digits int) int {
	text := strconv.FormatFloat(x, 'e', digits-1, 64)
	exp, _ := strconv.Atoi(text[strings.IndexByte(text, 'e')+1:])
	return exp
}

// widest is how many characters a number may take before it is written with a power
// of ten, so that one absurd value does not make a table unreadable.
const widest = 14

// decimal writes x with that many decimals, rounded to tens and so on where they
// are negative, and never "-0"; with a power of ten where that would be too wide.
func decimal(x float64, decimals int) string {
	if known(math.Abs(x)) && (decimals > widest || exponent(x, 1) >= widest) {
		return strconv.FormatFloat(x, 'e', significant-1, 64)
	}
	if decimals < 0 {
		tens := math.Pow10(-decimals)
		x = math.Round(x/tens) * tens
	}
	text := strconv.FormatFloat(x, 'f', max(decimals, 0), 64)
	if strings.Trim(text, "-0.") == "" {
		text = strings.TrimPrefix(text, "-")
	}
	return text
}

// valueText writes a value with a prefixed unit and the digits that it
// supports: "412.3 µJ".
func valueText(x, u float64, base string, ascii bool) string {
	size, label := scaleFor([]float64{x}, base)
	return strings.TrimSpace(decimal(x/size, decimals(x, u, size)) + " " + unitLabel(label, ascii))
}

// scaleFor returns the size of the unit to show values in and its label, one for
// all of them. Volts and amperes keep their base unit up to 10 000, as is the
// habit in the trade.
func scaleFor(values []float64, base string) (size float64, label string) {
	if base == "V" || base == "A" {
		peak := 0.0
		for _, x := range values {
			if x-x == 0 {
				peak = max(peak, math.Abs(x))
			}
		}
		if peak == 0 || peak >= 0.5 && peak < 10e3 {
			return 1, base
		}
	}
	factor, label := unit.Scale(values, base)
	return 1 / factor, label
}

// unitLabel spells a unit in ASCII where that is asked for.
func unitLabel(label string, ascii bool) string {
	if ascii {
		return unit.ASCII(label)
	}
	return label
}

// printable makes a text from a file safe for a terminal or a page: characters
// that are not printable, or not ASCII if that is asked for, become escapes.
func printable(s string, ascii bool) string {
	var out strings.Builder
	for len(s) > 0 {
		r, n := utf8.DecodeRuneInString(s)
		switch {
		case r == utf8.RuneError && n == 1:
			out.WriteString(`\x` + strconv.FormatUint(uint64(s[0])|0x100, 16)[1:])
		case !unicode.IsPrint(r) || ascii && r > unicode.MaxASCII:
			quoted := strconv.QuoteRuneToASCII(r)
			out.WriteString(quoted[1 : len(quoted)-1])
		default:
			out.WriteRune(r)
		}
		s = s[n:]
	}
	return out.String()
}

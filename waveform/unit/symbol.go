package unit

import (
	"math"
	"strings"
	"unicode/utf8"
)

// Prefixed splits a unit as people write it ("mV", "us", "kA", "Volts", "sec",
// "MSa/s", "%") into the factor to its SI base unit and that unit. ok is false
// for a word that is no unit known here; °C is none, since no factor leads
// from it to kelvin.
//
// Prefixes are case-sensitive (mV, MV), save K for kilo. The words are not.
// A lone "S" is read as second, as some instruments print it: conductance does
// not occur in a capture.
func Prefixed(symbol string) (factor float64, base string, ok bool) {
	exp, base, ok := Exponent(symbol)
	return math.Pow10(exp), base, ok
}

// Exponent is Prefixed with the factor as a power of ten, so that a reader can
// apply it to the printed decimal and round once.
func Exponent(symbol string) (exp10 int, base string, ok bool) {
	symbol = strings.TrimSpace(symbol)
	num, den, isRatio := strings.Cut(symbol, "/")
	if !isRatio {
		return simple(symbol)
	}
	if exp, ok := sampleRate(num, den); ok {
		return exp, "Hz", true
	}
	ne, nb, nok := simple(strings.TrimSpace(num))
	de, db, dok := simple(strings.TrimSpace(den))
	base = nb + "/" + db
	if _, known := find(base); !nok || !dok || !known {
		return 0, "", false
	}
	return ne - de, base, true
}

// sampleRate reads S/s and Sa/s with a prefix.
func sampleRate(num, den string) (exp10 int, ok bool) {
	if den != "s" && den != "S" {
		return 0, false
	}
	for _, sample := range []string{"Sa", "S"} {
		if p, found := strings.CutSuffix(num, sample); found {
			return prefix(p)
		}
	}
	return 0, false
}

// simple reads a unit without a stroke.
func simple(s string) (exp10 int, base string, ok bool) {
	switch s {
	case "":
		return 0, "", false
	case "%":
		return -2, "1", true
	case "ppm":
		return -6, "1", true
	}
	if base, ok := name(s); ok {
		return 0, base, true
	}
	_, size := utf8.DecodeRuneInString(s)
	if exp, ok := prefix(s[:size]); ok {
		if base, ok := name(s[size:]); ok {
			return exp, base, true
		}
	}
	low := strings.ToLower(s)
	for _, p := range prefixWords {
		if rest, found := strings.CutPrefix(low, p.word); found {
			if base, ok := name(rest); ok {
				return p.exp, base, true
			}
		}
	}
	return 0, "", false
}

// prefix returns the power of ten of a prefix symbol, 0 for none.
func prefix(p string) (exp10 int, ok bool) {
	switch p {
	case "f":
		return -15, true
	case "p":
		return -12, true
	case "n":
		return -9, true
	case "u", "\u00b5", "\u03bc":
		return -6, true
	case "m":
		return -3, true
	case "":
		return 0, true
	case "k", "K":
		return 3, true
	case "M":
		return 6, true
	case "G":
		return 9, true
	case "T":
		return 12, true
	}
	return 0, false
}

var prefixWords = []struct {
	word string
	exp  int
}{
	{"femto", -15}, {"pico", -12}, {"nano", -9}, {"micro", -6}, {"milli", -3},
	{"kilo", 3}, {"mega", 6}, {"giga", 9},
}

// name returns the unit of a symbol or word without prefix.
func name(s string) (base string, ok bool) {
	switch s {
	case "V", "A", "s", "Hz", "H", "F", "J", "C", "W", "K":
		return s, true
	case "S":
		return "s", true
	case "Ω", "\u2126":
		return "ohm", true
	}
	if len(s) < 2 { // "a" or "c" alone is a name rather than a unit
		return "", false
	}
	switch strings.ToLower(s) {
	case "volt", "volts":
		return "V", true
	case "amp", "amps", "ampere", "amperes":
		return "A", true
	case "sec", "secs", "second", "seconds":
		return "s", true
	case "hz", "hertz":
		return "Hz", true
	case "ohm", "ohms":
		return "ohm", true
	case "henry", "henries":
		return "H", true
	case "farad", "farads":
		return "F", true
	case "joule", "joules":
		return "J", true
	case "coulomb", "coulombs":
		return "C", true
	case "watt", "watts":
		return "W", true
	case "kelvin":
		return "K", true
	}
	return "", false
}

package unit

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// zeroCelsius is 0 °C in kelvin, by definition.
const zeroCelsius = 273.15

// Parse reads a quantity with its unit, such as "4.7 kΩ" where unit is "ohm",
// and returns it in that unit. The blank before the unit may be missing. For
// "K" it takes °C (also degC) and K; for "1" it takes % and ppm.
//
// A number without a unit, another quantity's unit, an unknown unit and
// anything that is no decimal number are errors; each says what was expected.
func Parse(s, unit string) (float64, error) {
	q, ok := find(unit)
	if !ok {
		panic("unit: Parse: no quantity has the unit " + strconv.Quote(unit))
	}
	text := strings.TrimSpace(s)
	mantissa, exp, symbol, ok := split(text)
	switch {
	case !ok:
		return 0, fmt.Errorf("%q: expected a number with its unit, such as %q", text, q.example)
	case symbol == "":
		return 0, fmt.Errorf("%s: expected %s %s with its unit, such as %q", text, q.article, q.name, q.example)
	}
	if q.unit == "K" && isCelsius(symbol) {
		return kelvin(text, mantissa, exp)
	}
	exp10, base, ok := Exponent(symbol)
	if !ok || base != q.unit {
		return 0, fmt.Errorf("%s: expected %s %s such as %q", text, q.article, q.name, q.example)
	}
	v, err := number(text, mantissa, exp+exp10)
	if err == nil && q.unit == "K" && v < 0 {
		return 0, fmt.Errorf("%s: below absolute zero", text)
	}
	return v, err
}

// split takes a quantity apart: the digits, the exponent written after them
// and the unit.
func split(s string) (mantissa string, exp int, symbol string, ok bool) {
	i, digits := 0, 0
	if i < len(s) && (s[i] == '-' || s[i] == '+') {
		i++
	}
	for point := false; i < len(s); i++ {
		if s[i] == '.' && !point {
			point = true
		} else if s[i] >= '0' && s[i] <= '9' {
			digits++
		} else {
			break
		}
	}
	if digits == 0 {
		return "", 0, "", false
	}
	mantissa, rest := s[:i], s[i:]
	if e, n := exponent(rest); n > 0 {
		exp, rest = e, rest[n:]
	}
	symbol = strings.TrimSpace(rest)
	if symbol != "" && (strings.ContainsAny(symbol[:1], "+-.,_'") || strings.ContainsAny(symbol, "0123456789")) {
		return "", 0, "", false // "4,7 ohm", "3k3", "1 000 V"
	}
	return mantissa, exp, symbol, true
}

// exponent reads "e-9" at the start of s and returns its length, 0 if there is
// none.
func exponent(s string) (exp, n int) {
	if s == "" || (s[0] != 'e' && s[0] != 'E') {
		return 0, 0
	}
	n = 1
	if n < len(s) && (s[n] == '-' || s[n] == '+') {
		n++
	}
	start := n
	for n < len(s) && s[n] >= '0' && s[n] <= '9' {
		n++
	}
	exp, err := strconv.Atoi(s[1:n])
	if n == start || err != nil {
		return 0, 0
	}
	return exp, n
}

// number is the decimal mantissa·10^exp, rounded once.
func number(text, mantissa string, exp int) (float64, error) {
	v, err := strconv.ParseFloat(mantissa+"e"+strconv.Itoa(exp), 64)
	if err != nil || math.IsInf(v, 0) {
		return 0, fmt.Errorf("%s: too large for a number", text)
	}
	return v, nil
}

func isCelsius(symbol string) bool {
	return symbol == "°C" || symbol == "degC" || symbol == "\u2103"
}

func kelvin(text, mantissa string, exp int) (float64, error) {
	c, err := number(text, mantissa, exp)
	if err == nil && c < -zeroCelsius {
		return 0, fmt.Errorf("%s: below absolute zero", text)
	}
	return c + zeroCelsius, err
}

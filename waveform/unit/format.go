package unit

import (
	"math"
	"slices"
	"strconv"
	"strings"
)

// Format writes value, given in unit, with digits significant digits and the
// prefix that leaves one to three digits before the point: "560 µJ". Slopes
// come in the trade's units (kV/µs or V/µs, A/ns or A/µs), ratios (unit "1")
// in percent, temperatures (unit "K") in °C. NaN, which means "not
// measurable", is "-".
func Format(value float64, unit string, digits int) string {
	switch {
	case math.IsNaN(value):
		return "-"
	case canonical(unit) == "K":
		return Number(value-zeroCelsius, digits) + " °C"
	}
	exp, label := scaleOf(roundTo(value, digits), unit)
	return strings.TrimSuffix(Number(value*math.Pow10(-exp), digits)+" "+label, " ")
}

// FormatDifference is Format for the difference of two values: of temperatures in kelvin.
func FormatDifference(value float64, unit string, digits int) string {
	if canonical(unit) == "K" && !math.IsNaN(value) {
		return Number(value, digits) + " K"
	}
	return Format(value, unit, digits)
}

// Scale chooses one prefix for a whole column: value·factor is to be printed
// under a header with that label, such as "µJ". The prefix is that of the
// median magnitude, so that one odd row does not set it for all. NaN, infinite
// and zero values do not count.
func Scale(values []float64, unit string) (factor float64, label string) {
	var size []float64
	for _, v := range values {
		if v != 0 && v-v == 0 {
			size = append(size, math.Abs(v))
		}
	}
	slices.Sort(size)
	median := 0.0
	if n := len(size); n > 0 {
		median = size[n/2]
	}
	exp, label := scaleOf(median, unit)
	return math.Pow10(-exp), label
}

// Number writes value with digits significant digits, without an exponent unless it
// took more than 20 places. NaN is "-".
func Number(value float64, digits int) string {
	if math.IsNaN(value) {
		return "-"
	}
	digits = max(digits, 1)
	value = roundTo(value, digits)
	decimals := digits - 1
	if value != 0 && !math.IsInf(value, 0) {
		decimals -= magnitude(value)
		if m := magnitude(value); m > 20 || decimals > 20 {
			return strconv.FormatFloat(value, 'e', digits-1, 64)
		}
	}
	return strconv.FormatFloat(value, 'f', max(decimals, 0), 64)
}

// ASCII rewrites the signs of units for a terminal without UTF-8: "uJ", "ohm",
// "degC".
func ASCII(s string) string {
	return strings.NewReplacer("\u00b5", "u", "\u03bc", "u", "Ω", "ohm", "\u2126", "ohm", "°", "deg",
		"·", "*", "±", "+/-", "√", "sqrt", "∫", "integral ", "²", "^2", "½", "1/2 ", "−", "-", "‾", "-", "ζ", "zeta", "Δ", "delta ", "δ", "delta ", "Σ", "sum ", "τ", "tau", "ω", "omega", "π", "pi", "⅔", "2/3 ", "⅓", "1/3 ", "∝", "proportional to ", "Î", "I_peak", "φ", "phi").Replace(s)
}

// scaleOf returns the label for a value of that size and its power of ten.
func scaleOf(value float64, unit string) (exp10 int, label string) {
	size := math.Abs(value)
	switch unit = canonical(unit); unit {
	case "1":
		return -2, "%"
	case "", "K":
		return 0, unit
	case "V/s":
		return slope(size, "V/µs", "kV/µs")
	case "A/s":
		return slope(size, "A/µs", "A/ns")
	case "ohm":
		unit = "Ω"
	}
	if size == 0 || math.IsInf(size, 0) {
		return 0, unit
	}
	e := min(max(int(math.Floor(float64(magnitude(size))/3)), -5), 4)
	return 3 * e, []string{"f", "p", "n", "µ", "m", "", "k", "M", "G", "T"}[e+5] + unit
}

// slope picks the unit of 1e6 or that of 1e9 per second.
func slope(size float64, slow, fast string) (exp10 int, label string) {
	if size < 1e9 {
		return 6, slow
	}
	return 9, fast
}

// roundTo rounds to digits significant digits.
func roundTo(value float64, digits int) float64 {
	v, err := strconv.ParseFloat(strconv.FormatFloat(value, 'e', max(digits, 1)-1, 64), 64)
	if err != nil {
		return value
	}
	return v
}

// magnitude returns the exponent of the first significant digit.
func magnitude(value float64) int {
	s := strconv.FormatFloat(value, 'e', -1, 64)
	e, err := strconv.Atoi(s[strings.IndexByte(s, 'e')+1:])
	if err != nil {
		panic("unit: no exponent in " + s)
	}
	return e
}

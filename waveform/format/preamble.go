package format

import (
	"math"
	"strconv"
	"strings"
	"unicode"

	"slewbook/waveform"
	"slewbook/waveform/unit"
)

// preamble takes the fields from the lines above the header: "key,value",
// "Key: value", "key = value", with or without a comment mark.
func preamble(head []line, sep byte) []waveform.Field {
	var fields []waveform.Field
	for _, l := range head {
		text := strings.TrimLeft(string(l.text), "#%; \t")
		cells := split([]byte(text), sep)
		if len(cells) < 2 || cells[1] == "" {
			cells = cutField(strings.TrimRight(text, string(rune(sep))+" "))
		}
		key := strings.TrimRight(cells[0], " :=")
		if key == "" {
			continue
		}
		var value []string
		for _, c := range cells[1:] {
			if c != "" {
				value = append(value, c)
			}
		}
		fields = append(fields, waveform.Field{Key: key, Value: strings.Join(value, " ")})
	}
	return fields
}

// cutField cuts a line without separators at its colon or equals sign.
func cutField(text string) []string {
	if i := strings.IndexAny(text, ":="); i > 0 {
		return []string{text[:i], strings.TrimSpace(text[i+1:])}
	}
	return []string{text}
}

// statedInterval returns the sample interval that the preamble states, in
// seconds, NaN if it states none; a sample rate serves as well.
func statedInterval(fields []waveform.Field, point byte) float64 {
	for _, f := range fields {
		switch letters(f.Key) {
		case "sampleinterval", "samplinginterval", "sampleperiod", "samplingperiod", "timeinterval",
			"interval", "timestep", "timeincrement", "xincrement", "xincr", "increment", "deltat", "dt", "hresolution":
			if dt, ok := stated(f, "s", point); ok && dt > 0 {
				return dt
			}
		case "samplerate", "samplingrate", "samplefrequency", "samplingfrequency":
			if rate, ok := stated(f, "Hz", point); ok && rate > 0 {
				return 1 / rate
			}
		}
	}
	return math.NaN()
}

// stated reads a field's number. Its unit may stand beside it, or in
// parentheses in the key; without one it is the base unit.
func stated(f waveform.Field, base string, point byte) (float64, bool) {
	d, n := scanDecimal([]byte(f.Value), point)
	if n == 0 {
		return 0, false
	}
	symbol := strings.TrimSpace(f.Value[n:])
	if _, inKey := splitUnit(f.Key); symbol == "" {
		symbol = inKey
	}
	shift := 0
	if symbol != "" {
		exp, got, ok := unit.Exponent(symbol)
		if !ok || got != base {
			return 0, false
		}
		shift = exp
	}
	return d.float([]byte(f.Value[:n]), point, shift), true
}

// codesKey returns the preamble's key that says that the samples are converter
// codes, still to be multiplied.
func codesKey(fields []waveform.Field) (key string, ok bool) {
	for _, f := range fields {
		switch letters(f.Key) {
		case "ymultiplier", "ymult", "yfactor", "codescale", "voltspercode", "verticalmultiplier":
			return f.Key, true
		}
	}
	return "", false
}

// verticalUnit returns the unit that the preamble states for the samples of a
// file with one channel.
func verticalUnit(fields []waveform.Field) (base string, shift int, ok bool) {
	for _, f := range fields {
		switch letters(f.Key) {
		case "verticalunits", "verticalunit", "yunits", "yunit":
			shift, base, ok = unit.Exponent(f.Value)
			return base, shift, ok
		}
	}
	return "", 0, false
}

// statedLength returns the number of samples that the preamble states, 0 if
// none.
func statedLength(fields []waveform.Field, point byte) float64 {
	for _, f := range fields {
		switch letters(f.Key) {
		case "recordlength", "memorylength", "numberofdatapoints", "numberofpoints", "points", "samples":
			value, _, _ := strings.Cut(f.Value, " ")
			if point == ',' {
				value = strings.ReplaceAll(value, ",", ".")
			}
			if n, err := strconv.ParseFloat(value, 64); err == nil && n > 0 {
				return n
			}
		}
	}
	return 0
}

// letters reduces a key to its letters in lower case, without a unit in
// parentheses.
func letters(key string) string {
	key, _ = splitUnit(key)
	return strings.Map(func(r rune) rune {
		if !unicode.IsLetter(r) {
			return -1
		}
		return unicode.ToLower(r)
	}, key)
}

package format

import (
	"strings"
	"unicode"

	"slewbook/waveform"
)

// field is one entry of a preamble with all its values: one, or one for each
// channel.
type field struct {
	key    string
	values []string
}

// header returns the fields as they go onto the capture.
func header(fields []field) []waveform.Field {
	var out []waveform.Field
	for _, f := range fields {
		if f.key != unitCells {
			out = append(out, waveform.Field{Key: f.key, Value: strings.Join(f.values, " ")})
		}
	}
	return out
}

// preamble takes the fields from the lines above the header: "key,value",
// "Key: value", "key = value", with or without a comment mark, one or several
// on a line.
func preamble(head []line, d dialect) []field {
	var fields []field
	for _, l := range head {
		text := strings.TrimSpace(strings.TrimLeft(utf8String(l.text), "#%;!* \t"))
		fields = append(fields, cutFields(fieldCells(text, d.sep), d)...)
	}
	return fields
}

// fieldCells cuts a line of the preamble into cells; the preamble need not have
// the separator of the table.
func fieldCells(text string, sep byte) []string {
	if sep != ' ' {
		if cells := split([]byte(text), sep); len(cells) > 1 && strings.Join(cells[1:], "") != "" {
			return cutKey(cells)
		}
	}
	text = strings.TrimRight(text, " \t"+string(rune(sep)))
	if cells := cutKey([]string{text}); len(cells) > 1 {
		return cells
	}
	for _, other := range []byte{'\t', ';', ','} {
		if cells := split([]byte(text), other); len(cells) > 1 {
			return cells
		}
	}
	if cells := splitWide(text); len(cells) > 1 {
		return cells
	}
	// "Interval 1.6e-9 s": the value starts at the number.
	for i := 1; i < len(text); i++ {
		if text[i-1] == ' ' && strings.ContainsRune("+-.0123456789", rune(text[i])) {
			return []string{strings.TrimSpace(text[:i]), text[i:]}
		}
	}
	// "unit V": a key that is known, without a mark.
	if i := strings.LastIndexByte(text, ' '); i > 0 {
		if _, ok := meaning(text[:i]); ok {
			return []string{text[:i], text[i+1:]}
		}
	}
	return []string{text}
}

// cutKey cuts the first cell at its colon or equals sign: "Rate: 1 GS/s".
func cutKey(cells []string) []string {
	if i := strings.IndexAny(cells[0], ":="); i > 0 && i < len(cells[0])-1 {
		value := strings.TrimSpace(cells[0][i+1:])
		if value != "" && !strings.HasPrefix(value, "\\") {
			return append([]string{cells[0][:i], value}, cells[1:]...)
		}
	}
	return cells
}

// cutFields cuts the cells of a line into fields: a new one starts where the
// line's first key comes again, at another key that is known, and at a word
// between two numbers.
func cutFields(cells []string, d dialect) []field {
	var fields []field
	first := ""
	for i, c := range cells {
		key := strings.TrimRight(c, " :=")
		switch {
		case len(fields) == 0:
			if key == "" {
				continue
			}
			first = key
			fields = append(fields, field{key: key})
		case c == "":
		case i+1 < len(cells) && (key == first || startsField(cells[i-1], c, cells[i+1], d)):
			fields = append(fields, field{key: key})
		default:
			f := &fields[len(fields)-1]
			f.values = append(f.values, c)
		}
	}
	return fields
}

// startsField tells whether a cell inside a line is a key.
func startsField(before, cell, after string, d dialect) bool {
	if after == "" || d.isNumber(cell) {
		return false
	}
	if _, ok := meaning(cell); ok && d.isNumber(after) != d.isNumber(before) || before == "" && d.isNumber(after) {
		return true
	}
	return d.isNumber(before) && d.isNumber(after) && len(letters(cell)) > 2
}

// letters reduces a key to its letters in lower case, without a unit in
// parentheses.
func letters(key string) string {
	key, _ = splitUnit(strings.TrimRight(key, " :="))
	return strings.Map(func(r rune) rune {
		if !unicode.IsLetter(r) {
			return -1
		}
		return unicode.ToLower(r)
	}, key)
}

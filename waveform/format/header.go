package format

import (
	"bytes"
	"fmt"
	"regexp"
	"slices"
	"strings"

	"slewbook/waveform/unit"
)

// readHead takes names, units and preamble from the lines above the table, and
// from the columns beside it.
func (t *table) readHead(head, rows []line) *ParseError {
	rest := trimBlank(head, t.sep)
	t.shape = "no header row"
	t.fields = t.right(rest, rows)
	rest = t.skipMark(rest)
	if units, ok := t.headCells(rest); ok && t.setUnits(units) {
		rest = t.skipMark(trimBlank(rest[:len(rest)-1], t.sep))
		t.shape = "units row"
	}
	var header []string
	if names, ok := t.headCells(rest); ok && t.areNames(names) {
		header = names
		if err := t.otherCount(rest, t.beyond(names)); err != nil {
			return err
		}
		rest = trimBlank(rest[:len(rest)-1], t.sep)
		if t.setNames(names) {
			t.shape = "units in names"
		} else if t.shape != "units row" {
			t.shape = "names row"
			if units, ok := t.headCells(rest); ok && isUnit(units[t.left]) && t.setUnits(units) {
				t.fields = t.fields[:len(t.fields)-1] // nothing stands above them to explain
				rest = rest[:len(rest)-1]
				t.shape = "units row above names"
			}
		}
	} else if err := t.otherCount(rest, t.headsFewer(rest)); err != nil {
		return err
	}
	if err := t.brokenAbove(rest, header); err != nil {
		return err
	}
	t.fields = append(t.fields, preamble(rest, t.dialect)...)
	if len(t.fields) > 0 {
		t.shape = "key,value preamble, " + t.shape
	}
	if beside := t.besides(rows); len(beside) > 0 {
		t.fields = append(t.fields, beside...)
		t.shape = "preamble beside the data, " + t.shape
	}
	return nil
}

// skipMark passes over a line of a single cell that marks the end of the
// preamble: "Waveform Data,", "Data:", "[Data]", a rule of dashes.
func (t *table) skipMark(head []line) []line {
	if len(head) == 0 {
		return head
	}
	text := strings.Trim(utf8String(head[len(head)-1].text), " \t\r\""+string(rune(t.sep)))
	cells := split([]byte(text), t.sep)
	if t.sep == ' ' {
		cells = splitWide(text)
	}
	rule := strings.Trim(text, "-=_*#~+ \t"+string(rune(t.sep))) == ""
	if !rule && (len(cells) >= max(t.filled(), 2) || t.isNumber(cells[0])) {
		return head
	}
	if above := trimBlank(head[:len(head)-1], t.sep); !rule && len(above) > 0 {
		if names, ok := t.headCells(above); ok && t.areNames(names) {
			t.fields = append(t.fields, preamble(head[len(head)-1:], t.dialect)...)
			return above
		}
	}
	mark := strings.TrimRight(strings.TrimLeft(text, "[<*#% "), "]>*: ")
	if rule || (len(cells) == 1 && !strings.ContainsAny(mark, "0123456789:=") && markWord.MatchString(mark)) {
		return trimBlank(head[:len(head)-1], t.sep)
	}
	return head
}

var markWord = regexp.MustCompile(`(?i)\b(data|samples?|values?|begin|start|curve|points|waveform|daten|werte)$`)

// headCells returns the cells of the last line, if they can stand over the
// table: as many as it has columns, those behind trailing separators left out.
// A comment mark before them is taken off.
func (t *table) headCells(head []line) (cells []string, ok bool) {
	if len(head) == 0 {
		return nil, false
	}
	n := len(t.columns)
	text := bytes.TrimLeft(head[len(head)-1].text, "#%!/ ")
	if t.sep != ';' {
		text = bytes.TrimLeft(text, "; ")
	}
	if t.sep == ' ' {
		cells = splitHead(utf8String(text), t.filled())
	} else {
		cells = split(text, t.sep)
	}
	for len(cells) > n && cells[len(cells)-1] == "" {
		cells = cells[:len(cells)-1]
	}
	if len(cells) < t.filled() {
		return nil, false
	}
	for len(cells) < n {
		cells = append(cells, "")
	}
	return cells, true
}

// splitHead cuts a header over columns of fixed width, whose names may hold
// blanks: at wide gaps, else at every blank, else with units joined to the
// names before them.
func splitHead(text string, n int) []string {
	if cells := splitWide(text); len(cells) == n {
		return cells
	}
	cells := splitBlanks([]byte(text))
	if len(cells) == n {
		return cells
	}
	var joined []string
	for _, c := range cells {
		if len(joined) > 0 && strings.ContainsAny(c[:1], "([{") {
			joined[len(joined)-1] += " " + c
		} else {
			joined = append(joined, c)
		}
	}
	return joined
}

var wideGap = regexp.MustCompile(`\t| {2,}`)

func splitWide(text string) []string {
	var cells []string
	for _, c := range wideGap.Split(strings.TrimSpace(text), -1) {
		if c = strings.TrimSpace(c); c != "" {
			cells = append(cells, utf8String(trimCell([]byte(c))))
		}
	}
	return cells
}

// setUnits takes a row of units. The first cell may be a word such as
// "Sequence", and columns that hold no samples may stand under anything: a
// number there belongs to the name above it (start, increment).
func (t *table) setUnits(cells []string) bool {
	n, channels := 0, 0
	for i, c := range cells {
		if c == "" || i < t.left {
			continue
		}
		_, _, isUnit := cellSymbol(c)
		switch {
		case isUnit:
			n++
		case i > t.left && otherUnit.MatchString(c):
			isUnit = true
		case i == t.left && len(c) > 1 && !t.isNumber(c), i >= t.filled(), c == "1" || c == "-" || c == "()" || c == "[]" || c == "(-)" || c == "[-]":
		default:
			return false
		}
		if isUnit && i > t.left {
			channels++
		}
	}
	if n == 0 || (channels == 0 && t.filled()-t.left > 1) {
		return false
	}
	for i, c := range cells[:min(len(cells), len(t.columns))] {
		if exp, base, ok := cellSymbol(c); ok {
			t.columns[i].shift, t.columns[i].unit = exp, base
		} else if m := codeUnit.FindStringSubmatch("(" + strings.Trim(c, "()[]") + ")"); m != nil {
			t.columns[i].codes = m[1]
		}
	}
	t.fields = append(t.fields, field{key: unitCells, values: cells})
	return true
}

// unitCells is the key under which the cells of the units row are kept until
// the names row says what the columns without samples stand for.
const unitCells = "\x00units"

// codeUnit matches the units of converter codes and of the screen, which say
// nothing of volts or amperes.
var codeUnit = regexp.MustCompile(`(?i)[(\[](counts?|codes?|lsb|adc|adu|raw|div|divs|divisions?)[)\]]$`)

func isUnit(c string) bool {
	_, _, ok := cellSymbol(c)
	return ok
}

// otherUnit matches the units of levels, angles and shares, which only tell
// that their row is one of units.
var otherUnit = regexp.MustCompile(`^[(\[]?(dB\w*|°C?|deg|degrees?|rad|%|counts?|codes?|raw|ADC|div|LSB)[)\]]?$`)

func cellSymbol(c string) (exp int, base string, ok bool) {
	return unit.Exponent(strings.Trim(c, "()[]{}<> "))
}

// areNames tells whether the cells are names of columns.
func (t *table) areNames(cells []string) bool {
	if t.filled()-t.left <= 2 {
		return heads(cells[t.left:])
	}
	if _, ok := meaning(cells[t.left]); ok && !timeLike(cells[t.left]) && !indexLike(cells[t.left]) {
		return false // "Vertical Units,V,A,V": a field with a value for each channel
	}
	names := 0
	for i, c := range cells {
		if i >= t.left && i < t.filled() && c != "" && (!t.isNumber(c) || timeLike(cells[t.left])) {
			names++
		}
	}
	return names > 0 && names >= t.named1()
}

// named1 is how many names a header must give: one for each column of numbers,
// the first left out.
func (t *table) named1() int {
	n := -1
	for _, c := range t.columns[t.left:] {
		if c.kind == numbers {
			n++
		}
	}
	return n
}

// setNames takes the names and the units in them, and tells whether there were
// any units.
func (t *table) setNames(cells []string) (units bool) {
	t.named = true
	var unitRow []string
	if k := len(t.fields) - 1; k >= 0 && t.fields[k].key == unitCells {
		unitRow, t.fields = t.fields[k].values, t.fields[:k]
	}
	style := unitStyle(cells)
	for i, c := range cells {
		if i >= t.filled() && c != "" && i < len(unitRow) && t.isNumber(unitRow[i]) {
			t.fields = append(t.fields, field{key: c, values: []string{unitRow[i]}})
			if i < len(t.columns) {
				t.columns[i].name = ""
			}
			continue
		}
		if i >= len(t.columns) || t.columns[i].kind == aside {
			continue
		}
		name, symbol := style(c)
		col := &t.columns[i]
		col.name = name
		if m := codeUnit.FindStringSubmatch(c); m != nil && len(m[0]) < len(c) {
			col.name, col.codes = strings.TrimSpace(strings.TrimSuffix(c, m[0])), m[1]
		}
		if exp, base, ok := unit.Exponent(symbol); ok {
			col.shift, col.unit = exp, base
			units = true
		}
	}
	return units
}

// otherCount refuses a header with names for another number of columns, n of
// them: the lines were cut in the wrong place, as where a comma both separates
// and marks decimals, or the rows lack a field. It does nothing where n is 0.
func (t *table) otherCount(head []line, n int) *ParseError {
	if n == 0 {
		return nil
	}
	return &ParseError{Line: head[len(head)-1].no, Found: fmt.Sprintf("%d names over rows of %d fields", n, t.filled()), Expected: "a name for each column",
		Do: "see whether the separator is also the decimal mark, or a field is missing"}
}

// headsFewer returns how many names the last line gives, if they are fewer than
// the columns; else 0.
func (t *table) headsFewer(head []line) int {
	if len(head) == 0 || t.sep == ' ' {
		return 0
	}
	cells := split(head[len(head)-1].text, t.sep)
	if len(cells) < 2 || len(cells) >= t.filled() || !headsTable(cells) {
		return 0
	}
	return len(cells)
}

// beyond returns how many names there are, if some stand where the rows have
// nothing and are no fields of the preamble; else 0.
func (t *table) beyond(names []string) int {
	if len(names) <= len(t.columns) || t.sep == ' ' {
		return 0
	}
	for _, c := range names[len(t.columns):] {
		if _, known := meaning(c); known || t.isNumber(c) {
			return 0
		}
	}
	return len(names)
}

// brokenAbove refuses rows between a header and the table, or between a header
// and the same again (names): they are its first ones, one of which is wrong.
func (t *table) brokenAbove(head []line, names []string) *ParseError {
	const most = 8 // a few more would have been the table
	for j := len(head) - 2; j >= max(len(head)-most, 0); j-- {
		cells := split(head[j].text, t.sep)
		if len(cells) < 2 || !headsTable(cells) || !t.isStamp(split(head[j+1].text, t.sep)[0]) || !fits(cells, t.filled()) || names != nil && !slices.Equal(cells, names) {
			continue
		}
		for _, l := range head[j+1:] {
			cells := split(l.text, t.sep)
			if !fits(cells, t.filled()) {
				return &ParseError{Line: l.no, Found: fmt.Sprintf("a row of %d fields", len(cells)), Expected: fmt.Sprintf("%d as in the rows below", t.filled())}
			}
			for k, c := range cells {
				if _, _, ok := t.sample([]byte(c), 0); !ok && !t.isStamp(c) {
					return &ParseError{Line: l.no, Found: fmt.Sprintf("%s in column %d", quote([]byte(c)), k+1), Expected: "a number"}
				}
			}
		}
		return &ParseError{Line: head[len(head)-1].no + 1, Found: "rows of samples between a header and the same header again", Expected: "rows without a break", Do: "take the second header out"}
	}
	return nil
}

// besides takes the fields of a preamble that stands in columns to the left of
// the data.
func (t *table) besides(rows []line) []field {
	if t.left == 0 {
		return nil
	}
	for _, c := range t.columns[:t.left] {
		if c.kind == words && strings.Join(c.cells[len(c.cells)-1:], "") != "" && len(c.cells) > 3 {
			return nil // a column of words
		}
	}
	var beside []line
	for _, l := range rows {
		cells := split(l.text, t.sep)
		if len(cells) < t.left || cells[0] == "" {
			continue
		}
		beside = append(beside, line{[]byte(strings.Join(cells[:t.left], string(rune(t.sep)))), l.start, l.no})
	}
	for k := range t.left {
		t.columns[k].kind = nothing
	}
	return preamble(beside, t.dialect)
}

// right takes the fields of a preamble that stands in columns to the right of
// the data: the first of them holds words, and all end before the rows do.
func (t *table) right(head, rows []line) []field {
	at := -1
	for k := t.left + 1; k < len(t.columns); k++ {
		c := t.columns[k]
		n := len(c.cells)
		ends := n > 8 && strings.Join(c.cells[n-3:], "") == ""
		switch {
		case c.kind == nothing:
		case !ends:
			at = -1
		case at < 0 && c.kind == words:
			at = k
		}
	}
	if at < 0 {
		return nil
	}
	var beside []line
	if len(head) > 0 {
		rows = append([]line{head[len(head)-1]}, rows...)
	}
	for _, l := range rows[:min(len(rows), probeRows)] {
		if cells := split(l.text, t.sep); len(cells) > at {
			beside = append(beside, line{[]byte(strings.Join(cells[at:], string(rune(t.sep)))), l.start, l.no})
		}
	}
	for k := at; k < len(t.columns); k++ {
		t.columns[k].kind = aside
	}
	return preamble(beside, t.dialect)
}

// heads tells the header of a table of two columns from a preamble of key and
// value: it names the time or the samples' numbers, or it gives both units.
func heads(names []string) bool {
	if len(names) == 1 {
		return false
	}
	_, x := splitUnit(names[0])
	_, y := splitUnit(names[1])
	if _, ok := meaning(names[0]); ok && x == "" {
		return false
	}
	if x != "" && len(letters(names[1])) > 1 && len(letters(names[1])) == len(names[1]) {
		return true // "Bin (V),Count": no time, but no field either
	}
	if channelLike.MatchString(names[0]) && channelLike.MatchString(names[1]) {
		return true
	}
	return timeLike(names[0]) && names[1] != "" || indexLike(names[0]) || (x != "" && y != "")
}

// timeLike tells whether a cell can head a time column.
func timeLike(cell string) bool {
	name, symbol := splitUnit(cell)
	if _, base, ok := unit.Exponent(symbol); ok {
		return base == "s" || base == "Hz"
	}
	if _, base, ok := unit.Exponent(name); ok {
		return base == "s"
	}
	return name == "" || timeName.MatchString(name)
}

var timeName = regexp.MustCompile(`(?i)^(t|x|x[ _-]?(axis|values?|data)|time.*|zeit.*|temps|tiempo|tempo|tid|abscissa|seconds?|date[ /_&-]*time|elapsed.*|uhrzeit|clock)$`)

// indexLike tells whether a cell can head a column of sample numbers.
func indexLike(cell string) bool { return indexName.MatchString(strings.TrimSpace(cell)) }

var indexName = regexp.MustCompile(`(?i)^(#|n|k|no\.?|nr\.?|num(ber)?|idx|index|samples?|points?|pts?|seq(uence)?|count|row|sample[ _-]?(no\.?|nr\.?|number|index|#)|point[ _-]?(no\.?|nr\.?|number|index))$`)

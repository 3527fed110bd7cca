package format

import (
	"math"
	"regexp"
	"strconv"
	"strings"

	"slewbook/waveform/unit"
)

// giveRoles decides which columns hold time stamps, and which of those that
// only count are no samples.
func (t *table) giveRoles() *ParseError {
	t.onceStated()
	t.readClocks()
	t.prefixFromPreamble()
	t.unitsInCells()
	first := -1
	for k := t.left; k < len(t.columns); k++ {
		c := &t.columns[k]
		if c.kind == nothing && c.name != "" {
			c.kind = numbers // a channel without samples so far
		}
		if c.kind != numbers {
			continue
		}
		if first < 0 {
			first = k
			c.time = t.leads(k)
			continue
		}
		f := t.columns[first]
		c.time = c.unit == "s" || (t.named && c.unit == "" && (laterTime.MatchString(c.name) || (f.time && f.name != "" && strings.EqualFold(c.name, f.name))))
	}
	if err := t.notTime(first); err != nil {
		return err
	}
	t.dropBits(first)
	c := &t.columns[first]
	if !c.time && t.counts(first) && t.firstTime() >= 0 {
		c.kind = nothing // sample numbers before the time
		t.left = first + 1
		c.name = ""
	}
	for k := range t.columns {
		if t.columns[k].time {
			t.relate(k)
		}
	}
	return nil
}

// onceStated takes the columns behind the samples that hold a number in the
// first row alone (start, increment) for fields.
func (t *table) onceStated() {
	for k := t.left + 1; k < len(t.columns); k++ {
		c := &t.columns[k]
		m, known := meaning(c.name)
		if c.kind != numbers || !known || (m != meansStart && m != meansInterval) || len(c.cells) < 3 || c.cells[0] == "" || strings.Join(c.cells[1:], "") != "" {
			continue
		}
		t.fields = append(t.fields, field{key: c.name, values: c.cells[:1]})
		c.kind, c.name = aside, ""
	}
}

// dropBits leaves out the columns of logic states beside the samples: they are
// named so and hold 0 and 1.
func (t *table) dropBits(first int) {
	for k := range t.columns {
		c := &t.columns[k]
		if k <= first || c.kind != numbers || c.unit != "" || !logicName.MatchString(c.name) {
			continue
		}
		if len(strings.Trim(strings.Join(c.cells, ""), "01")) == 0 && len(strings.Join(c.cells, "")) == len(c.cells) {
			c.kind = aside
		}
	}
}

var laterTime = regexp.MustCompile(`(?i)^(time|zeit)[ _-]?\w*$`)

// leads tells whether the first column of numbers is the time.
func (t *table) leads(k int) bool {
	c := t.columns[k]
	switch {
	case c.unit != "":
		return c.unit == "s"
	case t.counts(k):
		return false
	case t.named && (timeLike(c.name) || c.unit == "s"):
		return true
	}
	// Nothing names it: stamps grow evenly, samples do not.
	return !channelLike.MatchString(c.name) && t.even(k)
}

var channelLike = regexp.MustCompile(`(?i)^(ch|c|channel|kanal|math|m)[ _-]?\d+$|^(v|u|i)_?[a-z]{1,3}$`)

// counts tells whether a column without a unit holds 0, 1, 2, ... as whole
// numbers.
func (t *table) counts(k int) bool {
	c := t.columns[k]
	if c.unit != "" || len(c.cells) < 2 {
		return false
	}
	first := 0
	for i, cell := range c.cells {
		n, err := strconv.Atoi(cell)
		if i == 0 {
			first = n
		}
		if err != nil || n != first+i {
			return false
		}
	}
	return true
}

// even tells whether the first cells of the column grow, in steps that differ
// by no more than rounding or a stamp that is left out.
func (t *table) even(k int) bool {
	var v []float64
	for _, cell := range t.columns[k].cells {
		f, _, ok := t.sample([]byte(cell), 0)
		if !ok || f-f != 0 || (len(v) > 0 && f < v[len(v)-1]) {
			return false
		}
		v = append(v, f)
	}
	n := len(v)
	if n < 3 {
		return n == 2 && v[1] > v[0]
	}
	step := (v[n-1] - v[0]) / float64(n-1)
	if step <= 0 {
		return false
	}
	for i, f := range v {
		if math.Abs(f-v[0]-float64(i)*step) > 1.5*step {
			return false
		}
	}
	return true
}

// firstTime returns the first time column, -1 if there is none.
func (t *table) firstTime() int {
	for k, c := range t.columns {
		if c.time {
			return k
		}
	}
	return -1
}

// notTime refuses tables over something else than time.
func (t *table) notTime(first int) *ParseError {
	c := t.columns[first]
	name := strings.ToLower(c.name)
	switch {
	case c.unit == "Hz" || (c.unit == "" && (strings.HasPrefix(name, "freq") || strings.HasPrefix(name, "frequenz"))):
		return &ParseError{Line: t.line, Found: "a first column in Hz: a spectrum", Expected: "a record over time", not: "a spectrum, not a record over time"}
	case t.logic(first):
		return &ParseError{Line: t.line, Found: "columns that hold nothing but 0 and 1: a table of logic states", Expected: "samples of voltages or currents",
			not: "a table of logic states, not a capture"}
	}
	return nil
}

// logic tells whether all columns behind the first hold 0 and 1 alone.
func (t *table) logic(first int) bool {
	seen := map[string]bool{}
	columns := 0
	for k, c := range t.columns {
		if k <= first || c.kind != numbers || c.time {
			continue
		}
		if c.unit != "" {
			return false
		}
		columns++
		for _, cell := range c.cells {
			if cell != "0" && cell != "1" {
				return false
			}
			seen[cell] = true
		}
	}
	return columns >= 2 && len(t.columns[first].cells) >= 8 && (len(seen) == 2 || t.named && t.logicNames(first))
}

var logicName = regexp.MustCompile(`(?i)^(d|dio|din|bit|digital|logic|pod)[ _-]?\d+$`)

func (t *table) logicNames(first int) bool {
	for k, c := range t.columns {
		if k > first && c.kind == numbers && !logicName.MatchString(c.name) {
			return false
		}
	}
	return true
}

// unitsInCells gives a column the unit that its samples carry themselves.
func (t *table) unitsInCells() {
	for k := range t.columns {
		c := &t.columns[k]
		if c.kind != numbers || len(c.cells) == 0 {
			continue
		}
		if _, base, ok := t.sample([]byte(c.cells[0]), 0); ok && base != "" && c.unit == "" {
			c.unit = base
		}
	}
}

// prefixFromPreamble takes the units of time and samples from the preamble
// where the table itself gives none.
func (t *table) prefixFromPreamble() {
	first := -1
	var channels []int
	for k := t.left; k < len(t.columns); k++ {
		c := t.columns[k]
		switch {
		case c.kind == words || c.kind == aside || (c.kind == nothing && c.name == ""):
		case first < 0:
			first = k
		case t.counts(first) && k == first+1 && t.named && timeLike(c.name):
			first = k
		case !(t.named && c.unit == "" && (laterTime.MatchString(c.name) || strings.EqualFold(c.name, t.columns[first].name))) && c.unit != "s":
			channels = append(channels, k)
		}
	}
	if first < 0 {
		return
	}
	if f, ok := find(t.fields, meansTimeUnits); ok && t.columns[first].unit == "" && !t.counts(first) {
		if exp, base, ok := cellSymbol(f.values[0]); ok && base == "s" {
			t.columns[first].unit, t.columns[first].shift = base, exp
		}
	}
	if len(channels) == 0 && t.columns[first].unit == "" {
		channels = []int{first}
	}
	units := gather(t.fields, meansUnits)
	if len(channels) > 0 && len(units) == len(channels)+1 && t.columns[first].unit == "" && channelLike.MatchString(t.columns[first].name) {
		channels = append([]int{first}, channels...) // no time column
	}
	if len(units) == len(channels)+1 {
		if _, base, ok := cellSymbol(units[0]); ok && base == "s" {
			if t.columns[first].unit == "" && !t.counts(first) {
				t.columns[first].setUnit(units[0])
			}
			units = units[1:]
		}
	}
	for i, k := range channels {
		c := &t.columns[k]
		if c.unit != "" {
			continue
		}
		if len(units) == len(channels) {
			c.setUnit(units[i])
		} else if u, ok := t.unitOf(c.name); ok {
			c.setUnit(u)
		}
	}
}

// setUnit takes a unit as the file writes it.
func (c *column) setUnit(symbol string) {
	if exp, base, ok := cellSymbol(symbol); ok {
		c.unit, c.shift = base, exp
	}
}

// unitOf looks for a field that gives the unit of that channel alone: "CH1
// Units: V", or "CH1,V,...".
func (t *table) unitOf(name string) (string, bool) {
	if name == "" {
		return "", false
	}
	for _, f := range t.fields {
		if len(f.values) == 0 {
			continue
		}
		rest, ok := strings.CutPrefix(strings.ToLower(f.key), strings.ToLower(name))
		if !ok {
			continue
		}
		if m, ok := meaning(rest); rest == "" || (ok && m == meansUnits) {
			if _, _, ok := unit.Exponent(f.values[0]); ok {
				return f.values[0], true
			}
		}
	}
	return "", false
}

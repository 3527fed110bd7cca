package setup

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"github.com/pelletier/go-toml/v2"
	"github.com/pelletier/go-toml/v2/unstable"

	"slewbook/dpt"
	"slewbook/dpt/result"
	"slewbook/waveform"
)

// Error is one thing that is wrong in a set-up file.
type Error struct {
	File string
	Line int
	Text string // what was found and what was expected
	Near string // the line of the file
}

// Error writes "file:line: text" and the line of the file below.
func (e *Error) Error() string {
	return fmt.Sprintf("%s:%d: %s\n    %s", e.File, e.Line, e.Text, e.Near)
}

// Parse reads a set-up from the text of a file of that name.
func Parse(file string, doc []byte) (*Setup, error) {
	p := parser{file: file, lines: strings.Split(string(doc), "\n"), setup: Default(),
		line: map[string]int{}, text: map[string]string{}, named: map[result.Role]string{}}
	// The decoder knows syntax and keys that are given twice; the walk below
	// knows what the keys mean, and keeps the line of each.
	var any map[string]any
	if err := toml.Unmarshal(doc, &any); err != nil {
		return nil, p.syntax(err)
	}
	p.walk(doc)
	p.checkPairs()
	if len(p.errs) > 0 {
		return nil, errors.Join(p.errs...)
	}
	p.setup.conditions = p.conditions()
	return p.setup, nil
}

// parser gathers a set-up and what is wrong with it.
type parser struct {
	file  string
	lines []string
	setup *Setup
	line  map[string]int         // of each key that was given, by its full name
	text  map[string]string      // its value as written
	named map[result.Role]string // by what name each role was given
	errs  []error
}

// fail notes an error at that line.
func (p *parser) fail(line int, format string, args ...any) {
	p.errs = append(p.errs, p.at(line, fmt.Sprintf(format, args...)))
}

func (p *parser) at(line int, text string) *Error {
	near := ""
	if line >= 1 && line <= len(p.lines) {
		near = strings.TrimRight(p.lines[line-1], "\r")
	}
	return &Error{File: p.file, Line: line, Text: text, Near: near}
}

// syntax turns the decoder's error into ours.
func (p *parser) syntax(err error) error {
	var de *toml.DecodeError
	if !errors.As(err, &de) {
		return fmt.Errorf("%s: %w", p.file, err)
	}
	line, _ := de.Position()
	return p.at(line, strings.TrimPrefix(de.Error(), "toml: "))
}

// walk visits every table and key of a document that the decoder has accepted.
func (p *parser) walk(doc []byte) {
	var tp unstable.Parser
	tp.Reset(doc)
	var table []string
	for tp.NextExpression() {
		e := tp.Expression()
		path, line := keyPath(&tp, e)
		switch e.Kind {
		case unstable.Table:
			table = path
			p.table(path, line)
		case unstable.ArrayTable:
			table = path
			p.fail(line, "[[%s]]: a list of tables; expected [%s]", join(path), join(path))
		case unstable.KeyValue:
			p.value(&tp, append(append([]string{}, table...), path...), line, e.Value())
		}
	}
}

// keyPath returns the parts of a table's or key's name and its line.
func keyPath(tp *unstable.Parser, n *unstable.Node) (path []string, line int) {
	it := n.Key()
	for it.Next() {
		path = append(path, string(it.Node().Data))
		line = tp.Shape(it.Node().Raw).Start.Line
	}
	return path, line
}

func join(path []string) string { return strings.Join(path, ".") }

// value takes one key, going into inline tables.
func (p *parser) value(tp *unstable.Parser, path []string, line int, v *unstable.Node) {
	if v.Kind == unstable.InlineTable {
		p.table(path, line)
		it := v.Children()
		for it.Next() {
			sub, line := keyPath(tp, it.Node())
			p.value(tp, append(append([]string{}, path...), sub...), line, it.Node().Value())
		}
		return
	}
	table, name := path[:len(path)-1], path[len(path)-1]
	if join(table) == "conditions.note" {
		if v.Kind != unstable.String {
			p.fail(line, "%s: expected words in quotes", join(path))
			return
		}
		p.setup.Under.Notes = append(p.setup.Under.Notes, waveform.Field{Key: name, Value: string(v.Data)})
		return
	}
	kind, r, ok := p.table(table, line)
	if !ok {
		if kind == "channel" {
			p.fail(line, "%s: a key without a role; expected it under [channel.vds] or another role", join(path))
		}
		return
	}
	k, ok := findKey(kind, name)
	if !ok {
		p.fail(line, "%s: no such key%s", join(path), suggest(name, namesIn(kind)))
		return
	}
	p.line[join(path)] = line
	p.text[kind+"."+name] = string(v.Data)
	ch := DefaultChannel()
	if r != "" {
		ch = p.setup.Channel[r]
	}
	if err := k.set(p.setup, &ch, r, v); err != nil {
		p.fail(line, "%s: %s", join(path), err)
	}
	if r != "" {
		p.setup.Channel[r] = ch
	}
}

// table checks a table's name and returns its kind, and the role of a channel.
func (p *parser) table(path []string, line int) (kind string, r result.Role, ok bool) {
	name := join(path)
	if len(path) == 2 && path[0] == "channel" {
		r, ok := role(path[1])
		if !ok {
			p.once(name, line, "channel.%s: no such role; expected one of %s", path[1], roleNames())
			return "", "", false
		}
		if other, given := p.named[r]; given && other != path[1] {
			p.once(name, line, "channel.%s: the same role as channel.%s, which stands in line %d; give one of them", path[1], other, p.line["channel."+other])
			return "", "", false
		} else if !given {
			p.named[r] = path[1]
			p.line[name] = line
			p.setup.Channel[r] = DefaultChannel()
		}
		return "channel", r, true
	}
	if name == "channel" || name == "conditions.note" {
		return name, "", false
	}
	for _, t := range tables() {
		if t == name {
			return t, "", true
		}
	}
	if len(path) == 0 {
		p.fail(line, "a key before the first table; expected it under one of %s", tableNames())
		return "", "", false
	}
	p.once(name, line, "[%s]: no such table%s", name, suggest(name, tables()))
	return "", "", false
}

// once is fail for a table that several keys may name.
func (p *parser) once(name string, line int, format string, args ...any) {
	if _, told := p.line["error "+name]; !told {
		p.line["error "+name] = line
		p.fail(line, format, args...)
	}
}

func roleNames() string {
	var names []string
	for _, r := range append(slices.Clone(result.Roles), result.SetupRoles()...) {
		names = append(names, string(r))
	}
	return strings.Join(names, ", ") + ", or vce, ic, vge (ic_1 and so on, vce_on)"
}

func tableNames() string { return "[" + strings.Join(tables(), "], [") + "]" }

// checkPairs checks the values that belong together.
func (p *parser) checkPairs() {
	for _, r := range append(result.SetupRoles(), result.Roles...) {
		if c, ok := p.setup.Channel[r]; ok {
			t := "channel." + p.named[r]
			p.pair(t+".range_min", c.RangeMin, t+".range_max", c.RangeMax)
			p.both(t+".shunt_r", t+".shunt_l")
			p.traceable(t, r, c)
			_, c.Stated = p.line[t+".scale"]
			p.setup.Channel[r] = c
		}
	}
	p.matched()
	p.both("circuit.c_added", "circuit.f_added")
	p.pair("baseline.from", p.setup.Baseline.From, "baseline.to", p.setup.Baseline.To)
	d := p.setup.Device
	if d.VgsMin >= d.VgsMax {
		p.fail(p.line["device.vgs_min"], "device.vgs_min: not below device.vgs_max, which stands in line %d", p.line["device.vgs_max"])
	}
}

// traceable checks what is stated of a channel's accuracy and calibration.
func (p *parser) traceable(t string, r result.Role, c Channel) {
	if c.Accuracy != "" {
		a, err := dpt.ParseAccuracy(c.Accuracy, r.Unit())
		switch {
		case err != nil:
			p.fail(p.line[t+".accuracy"], "%s.accuracy: %v", t, err)
		case a.Range > 0 && !(c.Range > 0):
			p.fail(p.line[t+".accuracy"], "%s.accuracy: a part of the range, which is not given; give %s.range", t, t)
		}
	}
	if p.both(t+".calibrated", t+".due") && c.Calibrated >= c.Due {
		p.fail(p.line[t+".due"], "%s.due: not after %s.calibrated, which stands in line %d", t, t, p.line[t+".calibrated"])
	}
	if c.Drift > 0 && !(c.GainU > 0) && c.Accuracy == "" {
		p.fail(p.line[t+".drift"], "%s.drift: since which gain is not told; give %s.gain_u or accuracy as of the calibration", t, t)
	}
}

// pair checks two ends of an interval: both or none, the lower below the upper.
func (p *parser) pair(low string, a float64, high string, b float64) {
	if p.both(low, high) && a >= b {
		p.fail(p.line[low], "%s: not below %s, which stands in line %d", low, high, p.line[high])
	}
}

// both tells whether the two keys are given; one without the other is an error.
func (p *parser) both(a, b string) bool {
	lineA, okA := p.line[a]
	lineB, okB := p.line[b]
	switch {
	case okA && !okB:
		p.fail(lineA, "%s: given without %s", a, b)
	case okB && !okA:
		p.fail(lineB, "%s: given without %s", b, a)
	}
	return okA && okB
}

// matched checks that both bandwidths are there if they are to be matched.
func (p *parser) matched() {
	if !p.setup.Alignment.MatchBandwidth {
		return
	}
	for _, r := range []result.Role{result.Vds, result.Id} {
		name, ok := p.named[r]
		if !ok {
			name = string(r)
		}
		if key := "channel." + name + ".bandwidth"; p.line[key] == 0 {
			p.fail(p.line["alignment.match_bandwidth"], "alignment.match_bandwidth: given without %s", key)
		}
	}
}

// conditions makes the record of conditions.
func (p *parser) conditions() []result.Condition {
	var all []result.Condition
	for _, k := range keys {
		text, given := p.text[k.table+"."+k.name]
		if k.record != "" && given {
			all = append(all, k.condition(p.setup, text))
		}
	}
	for _, n := range p.setup.Under.Notes {
		all = append(all, words("note."+n.Key, n.Value))
	}
	return all
}

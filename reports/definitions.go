package reports

import (
	"cmp"
	"fmt"
	"io"
	"strings"

	"slewbook/dpt/result"
)

// WriteDefinitions lists the named sets and every named definition.
func WriteDefinitions(w io.Writer, opt TextOptions) error {
	p := &textTable{opt: opt}
	p.line("Sets of definitions (--definitions SET):\n")
	for _, s := range result.Sets {
		var items []string
		for _, c := range s.Choices {
			items = append(items, c.Key+"="+c.Name)
		}
		p.line("  %s: %s\n      %s\n      source: %s", s.Name, s.Text, strings.Join(items, " "), Source(s.Source, s.Sure))
	}
	p.line("\nDefinitions by quantity (--definition KEY=NAME; the first is the default of a MOSFET):")
	rows, last := [][]string(nil), ""
	for _, d := range result.Definitions() {
		if d.Key != last {
			c, _ := result.FindColumn(d.Key)
			rows = append(rows, nil, []string{d.Key, c.Help})
			last = d.Key
		}
		rows = append(rows, []string{"  " + d.Name, d.Text, Source(d.Source, d.Sure)})
	}
	p.rows(Table{Rows: rows, Keys: 1, Words: AllWords})
	p.line("\nEnergy windows are also built by their names: START-END[+TIME][.RULE], START-TIME, " +
		"fixed-TIME; START and END are v, i or g with per cent, TIME such as 2us, RULE last, " +
		"settled, dwell or dwell-TIME: v7.5-i3.last, g90-i10+5us, v5-5us.\n" +
		"slewbook definitions KEY tells one quantity with a sketch.")
	return p.write(w)
}

// WriteDefinition tells one quantity: what it is, its symbols, a sketch of its
// levels, and every named way to read it with formula and source.
func WriteDefinition(w io.Writer, key string, opt TextOptions) error {
	c, err := findColumn(key)
	if err != nil {
		return err
	}
	p := &textTable{opt: opt}
	symbols := "symbol " + c.Symbol
	if c.IGBT != "" {
		symbols += ", of an IGBT " + c.IGBT
	}
	p.line("%s (%s, unit %s)\n  %s", c.Key, symbols, c.Unit, c.Help)
	if c.Given {
		p.line("  Only where the set-up file gives the data that it needs.")
	}
	p.line("%s", sketch(c))
	p.line("Levels of v are per cent of the bus at the same edge, of i of the load current there, of the gate of the swing between its settled levels. Each is its first crossing.")
	ways := definitionsOf(key)
	for _, d := range ways {
		p.line("\n  %s\n    %s", d.Name, d.Text)
		if d.Formula != "" {
			p.line("    formula: %s", d.Formula)
		}
		p.line("    source: %s", Source(d.Source, d.Sure))
	}
	if len(ways) == 0 {
		p.line("\nIt is read in this one way only.")
	}
	p.line("\nIts uncertainty is made up of: %s.\nslewbook explain CAPTURE %s tells it for a capture, line by line.", inputs(c), key)
	return p.write(w)
}

func findColumn(key string) (result.Column, error) {
	c, ok := result.FindColumn(key)
	if !ok {
		return c, fmt.Errorf("no quantity has the key %q; slewbook definitions lists those with several definitions, the README all", key)
	}
	return c, nil
}

// definitionsOf lists the named ways to read a quantity; of a key that names one, that.
func definitionsOf(key string) []result.Definition {
	var out []result.Definition
	for _, d := range result.Definitions() {
		if column, _, named := strings.Cut(key, "."); d.Key == column && (!named || key == d.Key+"."+d.Name) {
			out = append(out, d)
		}
	}
	return out
}

// WriteDefinitionsJSON writes an object a line for each quantity with its named
// definitions, then one for each set of them.
func WriteDefinitionsJSON(w io.Writer) error {
	for _, c := range result.Columns {
		if err := WriteDefinitionJSON(w, c.Key); err != nil {
			return err
		}
	}
	for _, s := range result.Sets {
		var choices result.Object
		for _, c := range s.Choices {
			choices = append(choices, result.Member{Key: c.Key, Value: c.Name})
		}
		if err := WriteObject(w, "set", s.Name, "text", s.Text, "choices", choices, "source", s.Source, "sure", s.Sure); err != nil {
			return err
		}
	}
	return nil
}

// WriteDefinitionJSON writes one quantity, and every named way to read it, as one line
// of JSON; the first way is the default of a MOSFET.
func WriteDefinitionJSON(w io.Writer, key string) error {
	c, err := findColumn(key)
	if err != nil {
		return err
	}
	ways := each(definitionsOf(key), func(d result.Definition) any {
		return Object("name", d.Name, "text", d.Text, "formula", d.Formula, "source", d.Source, "sure", d.Sure)
	})
	return WriteObject(w, "key", c.Key, "symbol", c.Symbol, "symbol_igbt", cmp.Or(c.IGBT, c.Symbol), "unit", c.Unit, "edge", string(c.Edge), "help", c.Help,
		"given", c.Given, "u_of", inputs(c), "definitions", ways)
}

// inputs says what the uncertainty of a column is made of.
func inputs(c result.Column) string {
	switch {
	case strings.HasPrefix(c.Key, "f_ring"), strings.HasPrefix(c.Key, "zeta"):
		return "what the fit leaves of the ringing, and by how much its later part alone gives another figure"
	case c.Key == "delay_id":
		return "parts of the ringing that disagree, losses at its frequency, noise, sampling"
	case c.Key == "l_loop":
		return "gains of both channels, the delay of the current, how far the loop's equation holds, resistance and capacitance beside the inductance"
	case c.Unit == "J" || c.Unit == "C":
		return "gains and zeros of the channels, the delay of the current, the levels, bandwidths, noise, sampling"
	case c.Unit == "s":
		return "the levels and what moves their crossings: zeros, noise, sampling, bandwidths; gains and delay where two channels are compared"
	}
	return "gains and zeros of the channels, the levels, bandwidths, noise, sampling"
}

// Source joins a source and how sure it is, once.
func Source(text, sure string) string {
	switch {
	case text == "":
		return sure
	case strings.Contains(text, sure), strings.Contains(text, "("):
		return text
	}
	return text + " (" + sure + ")"
}

package reports

import (
	"cmp"
	"io"
	"strconv"

	"slewbook/waveform"
)

// Digits of the points of curves: far more than a line is thin.
const (
	timeDigits  = 9
	valueDigits = 6
)

// WriteCSV writes the numbers behind a figure in SI base units, on the axis of
// X of its panels, which is the time unless a column names its unit: curves as they are drawn, decimated and rounded to what a
// drawing needs; marks, levels, events and windows to the last digit.
func (f *Figure) WriteCSV(w io.Writer) error {
	out := newCSVWriter(w)
	head, more := []string{"panel", "item", "label", "t [s]", "y", "unit"}, false
	for _, p := range f.panels {
		more = more || p.XBase != ""
	}
	if more {
		head[3] = "x"
		head = append(head, "unit of x")
	}
	if err := out.Write(head); err != nil {
		return err
	}
	for _, txt := range f.provenance {
		if err := out.Write(append([]string{"", "provenance", csvText(txt)}, make([]string, len(head)-3)...)); err != nil {
			return err
		}
	}
	for _, p := range f.panels {
		for _, row := range p.rows() {
			if more {
				row = append(row, cmp.Or(p.XBase, "s"))
			}
			if err := out.Write(row); err != nil {
				return err
			}
		}
	}
	out.Flush()
	return out.Error()
}

// rows lists the rows of one panel.
func (p *panel) rows() [][]string {
	var rows [][]string
	add := func(item, label, t, y, unit string) {
		rows = append(rows, []string{p.Name, item, csvText(label), t, y, unit})
	}
	window := func(w waveform.Interval) {
		if w.Duration() > 0 {
			add("window", "from", csvFloat(w.From), "", "")
			add("window", "to", csvFloat(w.To), "", "")
		}
	}
	window(p.Window)
	for _, w := range p.More {
		window(w)
	}
	for _, e := range p.Events {
		add("event", e.Label, csvFloat(e.T), "", "")
	}
	for _, l := range p.Levels {
		add("level", l.Name, "", csvFloat(l.Y), p.Unit)
	}
	for _, m := range p.Marks {
		add("mark", m.Label, csvFloat(m.T), csvFloat(m.Y), p.Unit)
	}
	for _, d := range p.Dots {
		add("point", d.Label, csvFloat(d.X), csvFloat(d.Y), p.Unit)
	}
	if d := p.Density; d != nil {
		for k := range d.Count {
			for row, n := range d.Count[k] {
				if n > 0 {
					t, y := d.center(k, row)
					add("density", strconv.Itoa(n), strconv.FormatFloat(t, 'g', valueDigits, 64), strconv.FormatFloat(y, 'g', valueDigits, 64), p.Unit)
				}
			}
		}
	}
	for _, r := range p.Rows {
		add("row", r.Label, csvFloat(r.X), csvFloat(r.U), p.Unit)
	}
	for _, c := range p.Curves {
		for _, line := range c.Lines {
			for _, pt := range line {
				add("curve", c.Name, strconv.FormatFloat(pt.X, 'g', timeDigits, 64), strconv.FormatFloat(pt.Y, 'g', valueDigits, 64), p.Unit)
			}
		}
	}
	return rows
}

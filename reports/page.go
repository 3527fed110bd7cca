package reports

import (
	"fmt"
	"strings"

	"gonum.org/v1/plot/vg"

	"slewbook/dpt/result"
)

// Page is what the page of a campaign holds: a title, charts, a table of
// typical, smallest and largest values, and what a reader must know to repeat
// the test.
type Page struct {
	Title    string
	Subtitle string
	Charts   []*result.Chart // the first six are drawn
	Spreads  []result.Spread
	Items    []result.PageItem
	Notes    []string
}

// PageStyle is that of an A4 page.
func PageStyle() Style {
	return Style{Name: "page", Width: 210, Height: 297, Margin: 11, Text: 7, DPI: 150}
}

const (
	pageColumns = 3
	pageCharts  = 6
	pageText    = 6.6
	pageStep    = 8.6
)

// DrawPage lays out the page. It is an A4 sheet, longer where its text needs
// more.
func DrawPage(p *Page) (*Figure, error) {
	style := PageStyle()
	if err := style.Validate(); err != nil {
		return nil, err
	}
	f := newFigure(style, "page")
	items := f.itemLines(p)
	table := vg.Length(len(p.Spreads)+1)*pageStep + 18
	charts := p.Charts[:min(len(p.Charts), pageCharts)]
	rows := vg.Length((len(charts) + pageColumns - 1) / pageColumns)
	margin := style.length(style.Margin)
	fixed := 2*margin + 40 + table + vg.Length(len(items))*pageStep + 30
	chartHeight := vg.Length(96)
	room := rows * (chartHeight + 84)
	f.height = max(f.height, fixed+room)
	if rows > 0 {
		chartHeight = min((f.height-fixed)/rows-84, 185)
	}
	y := f.height - margin
	y = f.put(margin, y, []heading{{14, 19, subs, p.Title}, {8, 16, subs, p.Subtitle}})
	y = f.pageCharts(charts, y, chartHeight)
	y = f.pageTable(p.Spreads, y-4)
	f.pageItems(items, y-8)
	f.provenance = p.Notes
	return f, nil
}

// pageCharts draws the charts in rows, each with its lines named below it.
func (f *Figure) pageCharts(charts []*result.Chart, y, height vg.Length) vg.Length {
	for k, ch := range charts {
		left, width := f.columnSpan(k%pageColumns, pageColumns)
		p := chartPanel(ch)
		p.Marks = nil
		p.Area = vg.Rectangle{Min: vg.Point{X: left + axisRoom, Y: y - height - 20}, Max: vg.Point{X: left + width, Y: y - 20}}
		f.panels = append(f.panels, p)
		f.texts = append(f.texts, line{at: vg.Point{X: left, Y: y}, size: 8, subscript: subs, text: chartTitle(ch)})
		if ch.Where != "" {
			f.texts = append(f.texts, line{at: vg.Point{X: left, Y: y - 10}, size: 6, subscript: subs, text: "at " + ch.Where})
		}
		for n, e := range chartLegend(ch) {
			if n == 3 && len(ch.Lines) > 4 {
				f.texts = append(f.texts, line{at: vg.Point{X: left + axisRoom, Y: y - height - 47 - 3*8}, size: 6, text: fmt.Sprintf("and %d more lines, see the table", len(ch.Lines)-3)})
				break
			}
			e.at = vg.Point{X: left + axisRoom, Y: y - height - 50 - vg.Length(n)*8}
			e.Small = true
			f.legend = append(f.legend, e)
		}
		if k%pageColumns == pageColumns-1 || k == len(charts)-1 {
			y -= height + 84
		}
	}
	return y
}

// pageTable writes a row for each quantity.
func (f *Figure) pageTable(spreads []result.Spread, y vg.Length) vg.Length {
	margin := f.style.length(f.style.Margin)
	width := f.width - 2*margin
	// Left or right ends of the columns, as shares of the width.
	at := []vg.Length{0, 0.13, 0.62, 0.71, 0.80, 0.88, 0.94, 1}
	row := func(y vg.Length, cells ...string) {
		for k, txt := range cells {
			f.texts = append(f.texts, line{at: vg.Point{X: margin + at[k]*width, Y: y}, size: pageText, subscript: subs, text: txt, right: k > 1})
		}
	}
	rule := func(y vg.Length) {
		f.rules = append(f.rules, [2]vg.Point{{X: margin, Y: y}, {X: margin + width, Y: y}})
	}
	f.texts = append(f.texts, line{at: vg.Point{X: margin, Y: y}, size: 8, text: "Typical, smallest and largest of the shots at one set of conditions"})
	y -= 12
	rule(y + 1)
	row(y, "quantity", "conditions as measured", "smallest", "typical", "largest", "U (k = 2)", "shots", "without")
	y -= pageStep + 1
	rule(y + 1)
	for _, s := range spreads {
		size, label := scaleFor([]float64{s.Mean}, s.Unit)
		dec := decimals(s.Mean, s.U, size)
		show := func(x float64) string { return minus(decimal(x/size, dec)) }
		u := "-"
		if known(s.U) {
			u = decimal(2*s.U/size, dec)
		}
		name := s.Symbol
		if label != "" {
			name += " [" + label + "]"
		}
		row(y, name, s.Where, show(s.Min), show(s.Mean), show(s.Max), u, fmt.Sprint(s.N), fmt.Sprint(s.Missing))
		y -= pageStep
	}
	rule(y - 2)
	return y - 2
}

// itemLines breaks the items into lines; what is missing is written as plainly
// as what is known.
func (f *Figure) itemLines(p *Page) []string {
	style := f.text(pageText, plain)
	width := f.width - 2*f.style.length(f.style.Margin) - 14
	var out []string
	for k, item := range p.Items {
		text := fmt.Sprintf("%d  %s: %s", k+1, item.Name, strings.Join(item.Known, "; "))
		if len(item.Missing) > 0 {
			text += ifElse(len(item.Known) > 0, ".  ", "") + "NOT STATED: " + strings.Join(item.Missing, ", ")
		}
		for n, l := range wrap(style, text, width) {
			out = append(out, ifElse(n > 0, "     ", "")+l)
		}
	}
	for _, note := range p.Notes {
		out = append(out, wrap(style, note, width)...)
	}
	return out
}

func (f *Figure) pageItems(lines []string, y vg.Length) {
	margin := f.style.length(f.style.Margin)
	f.texts = append(f.texts, line{at: vg.Point{X: margin, Y: y}, size: 8, text: "Conditions of the test: what a reader must know to repeat it"})
	y -= 11
	f.box = vg.Rectangle{Min: vg.Point{X: margin, Y: y - vg.Length(len(lines))*pageStep - 7}, Max: vg.Point{X: f.width - margin, Y: y}}
	for k, txt := range lines {
		f.texts = append(f.texts, line{at: vg.Point{X: margin + 6, Y: y - 4 - vg.Length(k)*pageStep}, size: pageText, text: txt})
	}
}

// SpreadRows returns the table behind a page, in SI base units.
func SpreadRows(spreads []result.Spread) [][]string {
	rows := [][]string{{"key", "unit", "conditions", "n", "without", "mean", "min", "max", "s", "u", "stand out"}}
	for _, s := range spreads {
		rows = append(rows, []string{s.Key, s.Unit, s.Where, fmt.Sprint(s.N), fmt.Sprint(s.Missing), csvFloat(s.Mean), csvFloat(s.Min), csvFloat(s.Max), csvFloat(s.S), csvFloat(s.U), csvText(strings.Join(s.Outliers, "; "))})
	}
	return rows
}

package reports

import (
	"fmt"
	"io"
	"math"
	"strings"

	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"slewbook/dpt/result"
	"slewbook/waveform"
	"slewbook/waveform/unit"
)

// dot is one measured value on a panel, with bars of two standard uncertainties.
type dot struct {
	X, Y, U, UX float64 // U and UX are NaN where there is no bar
	Shape       int
	Pen         pen
	Flagged     bool // an outlier, kept: drawn hollow in a ring
	Small       bool // beside what matters
	Label       string
}

// dotShapes differ without colour as well.
func dotShapes() []draw.GlyphDrawer {
	return []draw.GlyphDrawer{draw.CircleGlyph{}, draw.BoxGlyph{}, draw.PyramidGlyph{}, draw.RingGlyph{}, draw.SquareGlyph{}, draw.TriangleGlyph{}}
}

func drawShape(c draw.Canvas, shape int, p pen, at vg.Point) {
	shapes := dotShapes()
	c.DrawGlyph(draw.GlyphStyle{Color: p.Color, Radius: 2.1, Shape: shapes[shape%len(shapes)]}, at)
}

// barLines returns the bars of the dots, for labels to keep off.
func barLines(dots []dot, x, y func(float64) vg.Length) [][]vg.Point {
	var out [][]vg.Point
	for _, d := range dots {
		if known(d.U) {
			out = append(out, []vg.Point{{X: x(d.X), Y: y(d.Y - 2*d.U)}, {X: x(d.X), Y: y(d.Y + 2*d.U)}})
		}
		if known(d.UX) {
			out = append(out, []vg.Point{{X: x(d.X - 2*d.UX), Y: y(d.Y)}, {X: x(d.X + 2*d.UX), Y: y(d.Y)}})
		}
	}
	return out
}

// drawDots draws the dots of a panel with their bars.
func drawDots(c draw.Canvas, dots []dot, x, y func(float64) vg.Length) {
	for _, d := range dots {
		thin := draw.LineStyle{Color: d.Pen.Color, Width: 0.6}
		at := vg.Point{X: x(d.X), Y: y(d.Y)}
		if known(d.U) {
			lo, hi := max(y(d.Y-2*d.U), c.Min.Y), min(y(d.Y+2*d.U), c.Max.Y)
			c.StrokeLine2(thin, at.X, lo, at.X, hi)
			for _, end := range []vg.Length{lo, hi} {
				c.StrokeLine2(thin, at.X-2, end, at.X+2, end)
			}
		}
		if known(d.UX) {
			lo, hi := max(x(d.X-2*d.UX), c.Min.X), min(x(d.X+2*d.UX), c.Max.X)
			c.StrokeLine2(thin, lo, at.Y, hi, at.Y)
		}
		if d.Small {
			c.DrawGlyph(draw.GlyphStyle{Color: d.Pen.Color, Radius: 1.3, Shape: draw.CircleGlyph{}}, at)
			continue
		}
		drawShape(c, d.Shape, d.Pen, at)
		if d.Flagged {
			c.DrawGlyph(draw.GlyphStyle{Color: ink(), Radius: 4.5, Shape: draw.RingGlyph{}}, at)
		}
	}
}

// DrawChart lays a chart out as a figure. Its Part is a name for its file.
func DrawChart(ch *result.Chart, style Style) (*Figure, error) {
	if err := style.Validate(); err != nil {
		return nil, err
	}
	f := newFigure(style, ChartName(ch))
	f.height = min(f.height, 0.72*f.width)
	width := f.width - 2*f.style.length(f.style.Margin)
	head := f.headings(10, subs, chartTitle(ch), width)
	if ch.Where != "" {
		head = append(head, f.headings(7.5, subs, "at "+ch.Where, width)...)
	}
	f.provenance = append(f.provenance, ch.Notes...)
	notes := []string{strings.Join(ch.Notes, " ")}
	for _, l := range ch.Lines {
		if !style.Brief && l.Formula != "" {
			notes = append(notes, withLabel(l.Label, l.Formula))
		}
	}
	f.fill(sheet{head: withGap(head, 4), columns: []column{{panels: []*panel{chartPanel(ch)}}}, legend: chartLegend(ch), notes: notes})
	return f, nil
}

func withLabel(label, text string) string {
	if label == "" {
		return text
	}
	return label + ": " + text
}

// ChartName is the slash path of a chart's files, without extension.
func ChartName(ch *result.Chart) string {
	if strings.Contains(ch.Key, "-") {
		return "trade-off/" + ch.Key + chartPart(ch)
	}
	return ch.Key + "-over-" + ch.Over + chartPart(ch)
}

// chartPart is appended to a name where a chart is one of several.
func chartPart(ch *result.Chart) string {
	if ch.Part == 0 {
		return ""
	}
	return fmt.Sprintf("-%02d", ch.Part)
}

var overNames = map[string]string{"i": "load current", "v": "bus voltage", "tj": "temperature", "rg": "gate resistor", "f_sw": "switching frequency"}

func chartTitle(ch *result.Chart) string {
	if name, ok := overNames[ch.Over]; ok {
		return ch.YSymbol + " against " + name
	}
	return ch.YSymbol + " against " + ch.XSymbol
}

func linePen(k, n int) pen {
	p := overlayPen(k, n)
	p.Width = 1
	return p
}

func chartLegend(ch *result.Chart) []legendEntry {
	var out []legendEntry
	for k, l := range ch.Lines {
		if l.Label != "" {
			out = append(out, legendEntry{Pen: linePen(k, len(ch.Lines)), Text: l.Label, Dot: true, Shape: k, NoLine: l.Fit == nil})
		}
	}
	return out
}

// chartPanel returns the axes with lines, bands and dots.
func chartPanel(ch *result.Chart) *panel {
	p := &panel{Name: ChartName(ch), Unit: ch.YUnit, TimeAxis: true}
	var xs, ys []float64
	for k, l := range ch.Lines {
		own := linePen(k, len(ch.Lines))
		for _, d := range l.Dots {
			dd := dot{X: d.X, Y: d.Y, U: d.U, UX: d.UX, Shape: k, Pen: own, Flagged: d.Outlier, Label: d.Capture}
			p.Dots = append(p.Dots, dd)
			xs, ys = append(xs, d.X), append(ys, d.Y)
			if strings.Contains(ch.Key, "-") && d.Rg-d.Rg == 0 {
				p.Marks = append(p.Marks, mark{T: d.X, Y: d.Y, Label: fmt.Sprintf("%.3g Ω", d.Rg), Pen: own, Bare: true})
			}
		}
		if l.Fit == nil {
			continue
		}
		var fit, lower, upper plotter.XYs
		for _, q := range l.Fit {
			fit = append(fit, plotter.XY{X: q.X, Y: q.Y})
			if q.Half-q.Half == 0 {
				lower, upper = append(lower, plotter.XY{X: q.X, Y: q.Y - q.Half}), append(upper, plotter.XY{X: q.X, Y: q.Y + q.Half})
			}
		}
		edge := pen{Color: own.Color, Width: 0.35}
		p.Curves = append(p.Curves, curve{"fit, " + l.Label, own, []plotter.XYs{fit}}, curve{"95 % band, " + l.Label, edge, []plotter.XYs{lower, upper}})
	}
	p.valueAxisOf(ch, ys)
	p.conditionAxis(ch, xs)
	return p
}

func (p *panel) valueAxisOf(ch *result.Chart, ys []float64) {
	size, label := scaleFor(ys, ch.YUnit)
	p.YUnit, p.YLabel = size, axisLabel(ch.YSymbol, label)
}

func axisLabel(symbol, unit string) string {
	if unit == "" || unit == "1" {
		return symbol
	}
	return symbol + " [" + unit + "]"
}

// conditionAxis starts at zero but for temperatures.
func (p *panel) conditionAxis(ch *result.Chart, xs []float64) {
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, x := range xs {
		lo, hi = min(lo, x), max(hi, x)
	}
	if ch.Over == "tj" {
		room := max(0.08*(hi-lo), 1)
		p.X, p.Zero, p.XUnit = waveform.Interval{From: lo - room, To: hi + room}, celsius, 1
		p.XLabel = ch.XSymbol + " [°C]"
		return
	}
	size, label := scaleFor(xs, ch.XUnit)
	p.X, p.XUnit = waveform.Interval{From: min(0, lo), To: hi + 0.08*(hi-min(0, lo))}, size
	p.XLabel = axisLabel(ch.XSymbol, label)
}

// chartHeader names the columns of a chart's table.
func chartHeader(ch *result.Chart) []string {
	x := ch.Over
	return []string{"line", "capture", "over " + x + " [" + ch.XUnit + "]", ch.Key + " [" + ch.YUnit + "]", "u [" + ch.YUnit + "]", "v [V]", "i [A]", "tj [K]", "rg [ohm]",
		"moved [" + ch.YUnit + "]", "fitted [" + ch.YUnit + "]", "left out [" + ch.YUnit + "]", "weight", "outlier", "warnings"}
}

// WriteChartCSV writes the points of a chart: SI base units, full precision,
// each at the conditions that were measured, with the fit at it, what the other
// points foretell, and what was added to bring it to its line's conditions.
func WriteChartCSV(w io.Writer, ch *result.Chart) error {
	rows := [][]string{chartHeader(ch)}
	for _, l := range ch.Lines {
		for _, d := range l.Dots {
			rows = append(rows, []string{l.Label, csvText(d.Capture), csvFloat(d.X), csvFloat(d.Y), csvFloat(d.U), csvFloat(d.V), csvFloat(d.I), csvFloat(d.Tj), csvFloat(d.Rg),
				csvFloat(d.Moved), csvFloat(d.Fitted), csvFloat(d.LeftOut), csvFloat(d.Weight), ifElse(d.Outlier, "yes", ""), d.Flags})
		}
	}
	return WriteRowsCSV(w, rows)
}

// WriteChartJSON writes a chart as one line of JSON.
func WriteChartJSON(w io.Writer, ch *result.Chart) error {
	lines := each(ch.Lines, func(l result.Line) any {
		dots := each(l.Dots, func(d result.Dot) any {
			return Object("capture", d.Capture, "x", d.X, "y", d.Y, "u", d.U, "v", d.V, "i", d.I, "tj", d.Tj, "rg", d.Rg,
				"moved", d.Moved, "fitted", d.Fitted, "left_out", d.LeftOut, "weight", d.Weight, "outlier", d.Outlier, "warnings", strings.Fields(d.Flags))
		})
		fit := each(l.Fit, func(q result.FitPoint) []result.Number {
			return []result.Number{result.Number(q.X), result.Number(q.Y), result.Number(q.Half)}
		})
		return Object("label", l.Label, "formula", l.Formula, "basis", l.Why, "left_out", l.Left, "points", dots, "fit", fit)
	})
	return WriteObject(w, "chart", ChartName(ch), "key", ch.Key, "unit", ch.YUnit, "over", ch.Over, "over_unit", ch.XUnit, "where", ch.Where, "lines", lines, "notes", ch.Notes)
}

// WriteRowsCSV writes a table whose first row is its header.
func WriteRowsCSV(w io.Writer, rows [][]string) error {
	out := newCSVWriter(w)
	for _, row := range rows {
		if err := out.Write(row); err != nil {
			return err
		}
	}
	out.Flush()
	return out.Error()
}

// Num writes a value with its unit and the digits that its uncertainty carries; "0"
// where these leave nothing of it.
func Num(x, u float64, unit string) string {
	switch {
	case math.IsNaN(x):
		return "-"
	case x == 0 || known(u) && math.Abs(x) < math.Pow10(-decimals(x, u, 1))/2:
		return "0"
	}
	return valueText(x, u, unit, false)
}

// Figures writes a value in a unit of that size with the digits that its standard
// uncertainty supports, and with ± and the expanded one where it is known.
func Figures(x, u, size float64) string {
	places := decimals(x, u, size)
	text := decimal(x/size, places)
	if known(u) {
		text += "±" + decimal(2*u/size, places)
	}
	return minus(text)
}

// Stated writes a value with ±, its expanded uncertainty and its unit: "12.01±0.24 ns".
func Stated(x, u float64, base string) string {
	if math.IsNaN(x) {
		return "-"
	}
	factor, label := unit.Scale([]float64{x}, base)
	return strings.TrimSpace(Figures(x, u, 1/factor) + " " + label)
}

// WriteObject writes an Object as one line of JSON.
func WriteObject(w io.Writer, members ...any) error {
	return writeJSONLine(w, Object(members...))
}

// Object returns a JSON object of names and values by turns, which keeps their
// order; a NaN is null, no list is null.
func Object(members ...any) any {
	out := make(result.Object, 0, len(members)/2)
	for k := 0; k+1 < len(members); k += 2 {
		v := members[k+1]
		switch x := v.(type) {
		case float64:
			v = result.Number(x)
		case []string:
			v = list(x)
		}
		out = append(out, result.Member{Key: members[k].(string), Value: v})
	}
	return out
}

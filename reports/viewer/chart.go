package viewer

import (
	"fmt"
	"html/template"
	"math"
	"slices"
	"strconv"
	"strings"

	"slewbook/dpt/result"
	"slewbook/reports"
	"slewbook/waveform/unit"
)

// Size of a chart in its own units.
const (
	chartWidth  = 460.0
	chartHeight = 300.0
	chartLeft   = 62.0
	chartRight  = 10.0
	chartTop    = 12.0
	chartBottom = 44.0
)

// chart is a result.Chart as the page draws it: an SVG that needs no script, each
// point a link to its shot.
type chart struct {
	Title string
	SVG   template.HTML
	Lines []chartLine
	Notes []string
}

type chartLine struct {
	Key            template.HTML // a sample of the line
	Label, Formula string
}

// shared lists the notes that all charts have alike.
func shared(charts []*result.Chart) []string {
	var out []string
	for k, c := range charts {
		if k == 0 {
			out = slices.Clone(c.Notes)
		}
		out = slices.DeleteFunc(out, func(note string) bool { return !slices.Contains(c.Notes, note) })
	}
	return out
}

// axis maps one of the two directions.
type axis struct {
	low, high float64
	from, to  float64 // places of low and high
	size      float64
	label     string
	ticks     []float64
	digits    int
}

func newAxis(values []float64, symbol, base string, from, to float64) axis {
	a := axis{low: math.Inf(1), high: math.Inf(-1), from: from, to: to}
	for _, x := range values {
		if x-x == 0 {
			a.low, a.high = min(a.low, x), max(a.high, x)
		}
	}
	if a.low > a.high {
		a.low, a.high = 0, 1
	}
	if a.low > 0 && a.low < 0.6*a.high {
		a.low = 0
	}
	if a.low == a.high {
		a.low, a.high = a.low-math.Abs(a.low)/10-1e-30, a.high+math.Abs(a.high)/10+1e-30
	}
	pad := (a.high - a.low) * 0.04
	if a.low != 0 {
		a.low -= pad
	}
	a.high += pad
	factor, name := unit.Scale(values, base)
	a.size, a.label = factor, symbol
	if name != "" {
		a.label += " / " + name
	}
	low, high := a.low*factor, a.high*factor
	var step float64
	step, a.digits = reports.TickStep((high - low) / 6)
	for k := math.Ceil(low / step); k*step <= high; k++ {
		a.ticks = append(a.ticks, k*step/factor)
	}
	return a
}

func (a axis) at(x float64) float64 { return a.from + (x-a.low)/(a.high-a.low)*(a.to-a.from) }

// svg writes elements; text is escaped.
type svg struct{ strings.Builder }

func (s *svg) element(name, attributes string, text ...string) {
	if len(text) == 0 {
		fmt.Fprintf(s, "<%s %s/>", name, attributes)
		return
	}
	fmt.Fprintf(s, "<%s %s>%s</%s>", name, attributes, template.HTMLEscapeString(strings.Join(text, "")), name)
}

// symbol writes a text element with subscripts.
func (s *svg) symbol(attributes, text string) {
	fmt.Fprintf(s, "<text %s>", attributes)
	down := false // whether the line stands low
	for _, r := range reports.Runs(text) {
		shift := ""
		if r.Sub != down {
			shift = map[bool]string{true: ` dy="3"`, false: ` dy="-3"`}[r.Sub]
		}
		down = r.Sub
		if r.Sub {
			shift += ` class="sub"`
		}
		s.element("tspan", shift, r.Text)
	}
	s.WriteString("</text>")
}

func place(x float64) string { return strconv.FormatFloat(x, 'f', 1, 64) }

// newChart draws a chart; notes that are told elsewhere are left out.
func newChart(ch *result.Chart, told []string) chart {
	var xs, ys []float64
	for _, l := range ch.Lines {
		for _, d := range l.Dots {
			xs = append(xs, d.X)
			ys = append(ys, d.Y)
			if d.U > 0 {
				ys = append(ys, d.Y-2*d.U, d.Y+2*d.U)
			}
		}
		for _, p := range l.Fit {
			xs, ys = append(xs, p.X), append(ys, p.Y-p.Half, p.Y+p.Half)
		}
	}
	x := newAxis(xs, ch.XSymbol, ch.XUnit, chartLeft, chartWidth-chartRight)
	y := newAxis(ys, ch.YSymbol, ch.YUnit, chartHeight-chartBottom, chartTop)
	title := fmt.Sprintf("%s against %s", ch.YSymbol, ch.XSymbol)
	out := chart{Title: title}
	for _, note := range ch.Notes {
		if !slices.Contains(told, note) {
			out.Notes = append(out.Notes, note)
		}
	}
	if ch.Where != "" {
		out.Title += ", " + ch.Where
	}
	var s svg
	fmt.Fprintf(&s, `<svg viewBox="0 0 %g %g" role="group" aria-label="%s">`, chartWidth, chartHeight, template.HTMLEscapeString(strings.ReplaceAll(out.Title, "_", " ")))
	s.frame(x, y)
	for k, l := range ch.Lines {
		class := fmt.Sprintf("line%d", k%6)
		key := fmt.Sprintf(`<svg class="key" viewBox="0 0 34 12" aria-hidden="true"><path class="fit %s" d="M1 6H33"/><path class="dot %s" d="%s"/></svg>`, class, class, marker(k%6, 17, 6))
		out.Lines = append(out.Lines, chartLine{template.HTML(key), l.Label, l.Formula})
		s.line(l, ch.YUnit, x, y, class, k%6)
	}
	s.WriteString("</svg>")
	out.SVG = template.HTML(s.String())
	return out
}

// frame draws axes, ticks and labels.
func (s *svg) frame(x, y axis) {
	for _, t := range x.ticks {
		s.element("path", fmt.Sprintf(`class="grid" d="M%s %sV%s"`, place(x.at(t)), place(y.from), place(y.to)))
		s.element("text", fmt.Sprintf(`class="tick" x="%s" y="%s" text-anchor="middle"`, place(x.at(t)), place(y.from+17)), strconv.FormatFloat(t*x.size, 'f', x.digits, 64))
	}
	for _, t := range y.ticks {
		s.element("path", fmt.Sprintf(`class="grid" d="M%s %sH%s"`, place(x.from), place(y.at(t)), place(x.to)))
		s.element("text", fmt.Sprintf(`class="tick" x="%s" y="%s" text-anchor="end"`, place(x.from-5), place(y.at(t)+4)), strconv.FormatFloat(t*y.size, 'f', y.digits, 64))
	}
	s.element("path", fmt.Sprintf(`class="frame" d="M%s %sV%sH%s"`, place(x.from), place(y.to), place(y.from), place(x.to)))
	s.symbol(fmt.Sprintf(`class="name" x="%s" y="%s" text-anchor="end"`, place(x.to), place(y.from+35)), x.label)
	s.symbol(fmt.Sprintf(`class="name" x="%s" y="%s"`, place(x.from+6), place(y.to+10)), y.label)
}

// line draws a fit and its points with their bars of U = 2u.
func (s *svg) line(l result.Line, unit string, x, y axis, class string, shape int) {
	// The fit, then the two sides of its 95 % band.
	for _, side := range []float64{0, 1, -1} {
		var path strings.Builder
		for k, p := range l.Fit {
			path.WriteString(map[bool]string{true: "M", false: "L"}[k == 0] + place(x.at(p.X)) + " " + place(y.at(p.Y+side*p.Half)))
		}
		if name := map[bool]string{true: "fit ", false: "band "}[side == 0]; path.Len() > 0 {
			s.element("path", fmt.Sprintf(`class="%s%s" d="%s"`, name, class, path.String()))
		}
	}
	for _, d := range l.Dots {
		if d.X-d.X != 0 || d.Y-d.Y != 0 {
			continue
		}
		px, py := x.at(d.X), y.at(d.Y)
		fmt.Fprintf(s, `<a href="#%s">`, template.HTMLEscapeString(string(fragment(d.Capture))))
		s.element("title", "", d.Capture, ": ", reports.Stated(d.Y, d.U, unit))
		if d.U > 0 {
			s.element("path", fmt.Sprintf(`class="bar %s" d="M%s %sV%s"`, class, place(px), place(y.at(d.Y-2*d.U)), place(y.at(d.Y+2*d.U))))
		}
		s.element("path", fmt.Sprintf(`class="dot %s" d="%s"`, class, marker(shape, px, py)))
		s.WriteString("</a>")
	}
}

// marker is the outline of a point; each line has its own, so that colour alone
// need not tell them apart.
func marker(shape int, x, y float64) string {
	at := func(pairs ...float64) string {
		var b strings.Builder
		for k := 0; k < len(pairs); k += 2 {
			b.WriteString(map[bool]string{true: "M", false: "L"}[k == 0] + place(x+pairs[k]) + " " + place(y+pairs[k+1]))
		}
		return b.String() + "Z"
	}
	switch shape {
	case 0:
		return fmt.Sprintf("M%s %sa3.6 3.6 0 1 0 7.2 0a3.6 3.6 0 1 0 -7.2 0Z", place(x-3.6), place(y))
	case 1:
		return at(-3.4, -3.4, 3.4, -3.4, 3.4, 3.4, -3.4, 3.4)
	case 2:
		return at(0, -4.4, 4.2, 3.4, -4.2, 3.4)
	case 3:
		return at(0, -4.8, 4.8, 0, 0, 4.8, -4.8, 0)
	case 4:
		return at(0, 4.4, 4.2, -3.4, -4.2, -3.4)
	}
	return at(-1.3, -4.4, 1.3, -4.4, 1.3, -1.3, 4.4, -1.3, 4.4, 1.3, 1.3, 1.3, 1.3, 4.4, -1.3, 4.4, -1.3, 1.3, -4.4, 1.3, -4.4, -1.3, -1.3, -1.3)
}

// fragment is the part of the address that shows a shot.
func fragment(capture string) template.URL {
	return template.URL("shot=" + template.URLQueryEscaper(capture))
}

package reports

import (
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// legendEntry is a piece of line with what it stands for.
type legendEntry struct {
	Pen  pen
	Text string
	// Dot shows the shape of points on the line; NoLine leaves the line out.
	Dot, NoLine bool
	Shape       int
	Small       bool     // on a crowded page
	at          vg.Point // left end of the line, on the page
}

const (
	legendLine   = 24 // length of the piece of line
	legendStep   = 10.5
	legendSize   = 7
	legendIndent = 8
)

// legendColumns returns how many entries stand side by side and how wide they
// are.
func (f *Figure) legendColumns(entries []legendEntry) (n int, width vg.Length) {
	style := f.text(legendSize, subs)
	for _, e := range entries {
		width = max(width, legendLine+4+style.Width(e.Text)+12)
	}
	room := f.width - 2*f.style.length(f.style.Margin) - legendIndent
	return min(max(1, int(room/width)), len(entries)), width
}

func (f *Figure) legendHeight(entries []legendEntry) vg.Length {
	if len(entries) == 0 {
		return 0
	}
	n, _ := f.legendColumns(entries)
	return legendStep*vg.Length((len(entries)+n-1)/n) + 4
}

// placeLegend puts the entries below y, column by column.
func (f *Figure) placeLegend(entries []legendEntry, y vg.Length) {
	if len(entries) == 0 {
		return
	}
	n, width := f.legendColumns(entries)
	rows := (len(entries) + n - 1) / n
	left := f.style.length(f.style.Margin) + legendIndent
	for i := range entries {
		entries[i].at = vg.Point{X: left + vg.Length(i/rows)*width, Y: y - legendStep*(vg.Length(i%rows)+0.5)}
	}
	f.legend = entries
}

func (f *Figure) drawLegend(c draw.Canvas) {
	style := f.text(legendSize, subs)
	style.YAlign = draw.YCenter
	for _, e := range f.legend {
		style := style
		if e.Small {
			style.Font.Size = 6
		}
		if !e.NoLine {
			c.StrokeLine2(e.Pen.style(), e.at.X, e.at.Y, e.at.X+legendLine, e.at.Y)
		}
		if e.Dot {
			drawShape(c, e.Shape, e.Pen, vg.Point{X: e.at.X + legendLine/2, Y: e.at.Y})
		}
		c.FillText(style, vg.Point{X: e.at.X + legendLine + 4, Y: e.at.Y + style.FontExtents().Descent/2}, e.Text)
	}
}

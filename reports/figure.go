package reports

import (
	"fmt"
	"image/color"
	"io"
	"strings"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgimg"
	"gonum.org/v1/plot/vg/vgpdf"
	"gonum.org/v1/plot/vg/vgsvg"

	"slewbook/dpt/result"
)

// Figure is a laid-out drawing of a shot, of a part of it, or of several shots
// over each other. Its lengths are in points of the layout: see Style.zoom.
type Figure struct {
	Part string // "record", "turn-off" or "turn-on"; "" for a whole shot

	style      Style
	width      vg.Length
	height     vg.Length
	panels     []*panel
	texts      []line
	tiles      []tile        // below everything else
	rules      [][2]vg.Point // thin straight lines
	box        vg.Rectangle  // round the conditions
	legend     []legendEntry
	provenance []string // for the CSV
}

// line is one line of text on the page, its top left corner given.
type line struct {
	at        vg.Point
	size      vg.Length
	subscript bool
	text      string
	right     bool // the top right corner is given
}

func newFigure(style Style, part string) *Figure {
	return &Figure{Part: part, style: style, width: style.length(style.Width), height: style.length(style.Height)}
}

// DrawShot lays out the figures of a measured shot from its Traces, Events and
// Edges: one, or with Style.Split one of the record and one of each edge.
// Nothing is measured here, so what they shade and mark is what the tables
// state. A shot that failed or has no traces has no figure.
func DrawShot(s *result.Shot, style Style) ([]*Figure, error) {
	if err := style.Validate(); err != nil {
		return nil, err
	}
	if s.Err != nil {
		return nil, fmt.Errorf("no figure of %q, since it was not measured: %w", s.Capture, s.Err)
	}
	if s.Traces[result.Vds] == nil && s.Traces[result.Id] == nil {
		return nil, fmt.Errorf("no figure of %q: it has neither a vds nor an id trace", s.Capture)
	}
	if !style.Split {
		return []*Figure{wholeFigure(s, style)}, nil
	}
	out := []*Figure{recordFigure(s, style)}
	for _, e := range shownEdges(s) {
		out = append(out, edgeFigure(s, e, style))
	}
	return out, nil
}

// Formats lists the formats of figures.
func Formats() []string { return []string{"png", "svg", "pdf"} }

// CheckFormat tells whether a figure can be written in that format.
func CheckFormat(format string) error {
	for _, f := range Formats() {
		if f == format {
			return nil
		}
	}
	return fmt.Errorf("figure format %q: expected %s", format, strings.Join(Formats(), ", "))
}

// Write renders the figure in one of Formats.
func (f *Figure) Write(w io.Writer, format string) error {
	if err := CheckFormat(format); err != nil {
		return err
	}
	zoom := vg.Length(f.style.zoom())
	width, height := f.width*zoom, f.height*zoom
	var canvas interface {
		vg.CanvasSizer
		io.WriterTo
	}
	switch format {
	case "svg":
		canvas = vgsvg.New(width, height)
	case "pdf":
		canvas = vgpdf.New(width, height)
	case "png":
		canvas = vgimg.PngCanvas{Canvas: vgimg.NewWith(vgimg.UseWH(width, height), vgimg.UseDPI(f.style.DPI))}
	}
	f.draw(draw.NewCanvas(&paper{Canvas: canvas, Zoom: zoom, Pieces: format == "png"}, f.width, f.height))
	_, err := canvas.WriteTo(w)
	return err
}

// WriteAll writes the figure in several of Formats: put is given the name with the
// extension of each.
func (f *Figure) WriteAll(name string, formats []string, put func(name string, write func(io.Writer) error) error) error {
	for _, format := range formats {
		if err := put(name+"."+format, func(w io.Writer) error { return f.Write(w, format) }); err != nil {
			return err
		}
	}
	return nil
}

func (f *Figure) draw(c draw.Canvas) {
	c.SetColor(color.White)
	c.Fill(c.Rectangle.Path())
	for _, t := range f.tiles {
		c.SetColor(t.fill)
		c.Fill(t.area.Path())
		c.SetLineStyle(framePen().style())
		c.Stroke(t.area.Path())
	}
	for _, p := range f.panels {
		p.draw(c, f)
	}
	f.drawLegend(c)
	if f.box.Max.Y > f.box.Min.Y {
		c.SetLineStyle(framePen().style())
		c.Stroke(f.box.Path())
	}
	for _, r := range f.rules {
		c.StrokeLine2(framePen().style(), r[0].X, r[0].Y, r[1].X, r[1].Y)
	}
	for _, l := range f.texts {
		style := f.text(l.size, l.subscript)
		style.YAlign = draw.YTop
		if l.right {
			style.XAlign = draw.XRight
		}
		c.FillText(style, l.at, l.text)
	}
}

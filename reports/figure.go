package reports

import (
	"fmt"
	"image/color"
	"io"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgimg"
	"gonum.org/v1/plot/vg/vgsvg"

	"slewbook/dpt/result"
)

// Size is the size of a figure on paper.
type Size struct {
	Width, Height float64 // [mm]
	DPI           int     // dots per inch of a PNG
}

// DefaultSize suits a page in portrait and a screen.
func DefaultSize() Size { return Size{Width: 260, Height: 290, DPI: 120} }

// Validate tells whether there is room for the panels.
func (s Size) Validate() error {
	if !(s.Width >= 180 && s.Width <= 2000 && s.Height >= 180 && s.Height <= 2000) {
		return fmt.Errorf("a figure of %g mm by %g mm: expected 180 to 2000 mm each way", s.Width, s.Height)
	}
	if s.DPI < 30 || s.DPI > 600 {
		return fmt.Errorf("a figure with %d dots per inch: expected 30 to 600", s.DPI)
	}
	return nil
}

// Figure is the drawing of one shot: the whole record above, the turn-off and
// the turn-on edge below, and a box with the conditions.
type Figure struct {
	size   Size
	panels []*panel
	texts  []line
	box    vg.Rectangle // round the conditions
}

// line is one line of text on the page, its top left corner given.
type line struct {
	at        vg.Point
	size      vg.Length
	subscript bool
	text      string
}

// DrawShot lays out the figure of a measured shot from its Traces, Events and
// Edges; nothing is measured here, so what it shades and marks is what the
// tables state. A shot that failed or has no traces has no figure.
func DrawShot(s *result.Shot, size Size) (*Figure, error) {
	if err := size.Validate(); err != nil {
		return nil, err
	}
	if s.Err != nil {
		return nil, fmt.Errorf("no figure of %q, since it was not measured: %w", s.Capture, s.Err)
	}
	if s.Traces[result.Vds] == nil && s.Traces[result.Id] == nil {
		return nil, fmt.Errorf("no figure of %q: it has neither a vds nor an id trace", s.Capture)
	}
	f := &Figure{size: size}
	f.layout(s)
	return f, nil
}

// WriteFigure draws a shot in the default size. The format is "svg" or "png".
func WriteFigure(w io.Writer, s *result.Shot, format string) error {
	f, err := DrawShot(s, DefaultSize())
	if err != nil {
		return err
	}
	return f.Write(w, format)
}

// Write renders the figure. The format is "svg" or "png".
func (f *Figure) Write(w io.Writer, format string) error {
	width, height := vg.Length(f.size.Width)*vg.Millimeter, vg.Length(f.size.Height)*vg.Millimeter
	var canvas interface {
		vg.CanvasSizer
		io.WriterTo
	}
	switch format {
	case "svg":
		canvas = vgsvg.New(width, height)
	case "png":
		canvas = vgimg.PngCanvas{Canvas: vgimg.NewWith(vgimg.UseWH(width, height), vgimg.UseDPI(f.size.DPI))}
	default:
		return fmt.Errorf("figure format %q: expected svg or png", format)
	}
	f.draw(draw.NewCanvas(outlined{canvas}, width, height))
	_, err := canvas.WriteTo(w)
	return err
}

func (f *Figure) draw(c draw.Canvas) {
	c.SetColor(color.White)
	c.Fill(c.Rectangle.Path())
	for _, p := range f.panels {
		p.draw(c, f)
	}
	if f.box.Max.Y > f.box.Min.Y {
		c.SetLineStyle(framePen().style())
		c.Stroke(f.box.Path())
	}
	for _, l := range f.texts {
		style := f.text(l.size, l.subscript)
		style.YAlign = draw.YTop
		c.FillText(style, l.at, l.text)
	}
}

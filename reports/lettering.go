package reports

import (
	"image/color"
	"strings"
	"unicode/utf8"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// Whether "_" in a text is a subscript or just a character, as in the name of
// a capture.
const (
	plain = false
	subs  = true
)

// font returns the sans-serif face of that size in points.
func (f *Figure) font(size vg.Length) font.Font {
	return font.From(font.Font{Typeface: "Liberation", Variant: "Sans"}, size)
}

// text returns a style for text in that size, left-aligned.
func (f *Figure) text(size vg.Length, subscript bool) text.Style {
	letters := lettering{text.Plain{Fonts: plot.DefaultTextHandler.Cache()}, subscript}
	return text.Style{Color: ink(), Font: f.font(size), Handler: letters}
}

func labelSize(style text.Style, txt string) vg.Point {
	return vg.Point{X: style.Width(txt) + 2, Y: style.Height(txt)}
}

// label draws a small text on its box, with a leader to its anchor
// where that is not close by.
func label(c draw.Canvas, style text.Style, txt string, anchor vg.Point, box vg.Rectangle) {
	near := vg.Point{X: min(max(anchor.X, box.Min.X), box.Max.X), Y: min(max(anchor.Y, box.Min.Y), box.Max.Y)}
	if d := near.Sub(anchor); d.X*d.X+d.Y*d.Y > 9*9 {
		c.StrokeLine2(draw.LineStyle{Color: framePen().Color, Width: 0.4}, anchor.X, anchor.Y, near.X, near.Y)
	}
	c.SetColor(color.White) // opaque, since the PDF canvas mixes translucent colours wrongly
	c.Fill(box.Path())
	style.XAlign, style.YAlign = draw.XCenter, draw.YCenter
	middle := vg.Point{X: (box.Min.X + box.Max.X) / 2, Y: (box.Min.Y + box.Max.Y) / 2}
	c.FillText(style, middle.Add(vg.Point{Y: style.FontExtents().Descent / 2}), txt)
}

// wrap breaks a text into lines no wider than width, at spaces where it can.
func wrap(style text.Style, txt string, width vg.Length) []string {
	var lines []string
	line := ""
	for _, word := range strings.FieldsFunc(txt, func(r rune) bool { return r == ' ' }) {
		if line != "" && style.Width(line+" "+word) > width {
			lines = append(lines, line)
			line = ""
		}
		if line != "" {
			line += " "
		}
		line += word
		for style.Width(line) > width {
			n := fitting(style, line, width)
			lines, line = append(lines, line[:n]), line[n:]
		}
	}
	return append(lines, line)
}

// fitting returns how many bytes of a text fit into the width, at least those
// of one character.
func fitting(style text.Style, txt string, width vg.Length) int {
	_, n := utf8.DecodeRuneInString(txt)
	for i := range txt {
		if style.Width(txt[:i]) > width {
			break
		}
		n = max(n, i)
	}
	return n
}

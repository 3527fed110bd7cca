package reports

import (
	"math"
	"strings"

	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
)

// lettering is a text handler for single lines. With Subscripts set, "_" sets
// what follows as a subscript, as Runs tells: "E_on = 5 µJ", "t_d(off)", "V_bus,off".
type lettering struct {
	text.Plain
	Subscripts bool
}

const (
	subSize = 0.72 // size of a subscript relative to the text
	subDrop = 0.22 // how far it stands below the baseline, in text sizes
)

// Run is a stretch of a text of one size.
type Run struct {
	Text string
	Sub  bool // a subscript
}

// underscore stands for an underscore that is to be seen as one where subscripts are
// set.
const underscore = "\x01"

// literal keeps the underscores of a text from setting subscripts.
func literal(txt string) string { return strings.ReplaceAll(txt, "_", underscore) }

// Runs splits a symbol such as "V_bus,off" where its size changes: "_" sets what
// follows as a subscript, up to a space, "/", "=", ":" or a closing bracket that was
// not opened inside it.
func Runs(txt string) []Run {
	var out []Run
	show := func(txt string) string { return strings.ReplaceAll(txt, underscore, "_") }
	for {
		at := strings.IndexByte(txt, '_')
		if at < 0 || at == len(txt)-1 {
			return append(out, Run{Text: show(txt)})
		}
		end := at + 1 + subscriptLen(txt[at+1:])
		out = append(out, Run{Text: show(txt[:at])}, Run{Text: show(txt[at+1 : end]), Sub: true})
		txt = txt[end:]
	}
}

// runs are those of a text in a figure. Spaces become no-break spaces, which an SVG
// keeps at the ends of a run and which no kerning draws together.
func (h lettering) runs(txt string) []Run {
	txt = strings.ReplaceAll(txt, " ", "\u00a0")
	if !h.Subscripts {
		return []Run{{Text: strings.ReplaceAll(txt, underscore, "_")}}
	}
	return Runs(txt)
}

func subscriptLen(txt string) int {
	depth := 0
	for i, r := range txt {
		switch r {
		case ' ', '\u00a0', '/', '=', ':':
			return i
		case '(':
			depth++
		case ')':
			if depth--; depth < 0 {
				return i
			}
		}
	}
	return len(txt)
}

// Box implements text.Handler.
func (h lettering) Box(txt string, fnt font.Font) (width, height, depth vg.Length) {
	_, height, depth = h.Plain.Box("", fnt)
	for _, r := range h.runs(txt) {
		face := h.face(r, fnt)
		width += face.Width(r.Text)
	}
	return width, height, depth
}

func (h lettering) face(r Run, fnt font.Font) font.Face {
	size := fnt.Size
	if r.Sub {
		size *= subSize
	}
	return h.Fonts.Lookup(fnt, size)
}

// Draw implements text.Handler; it places the text as text.Plain does.
func (h lettering) Draw(c vg.Canvas, txt string, sty text.Style, pt vg.Point) {
	c.SetColor(sty.Color)
	if sty.Rotation != 0 {
		c.Push()
		defer c.Pop()
		c.Rotate(sty.Rotation)
	}
	sin64, cos64 := math.Sincos(sty.Rotation)
	sin, cos := vg.Length(sin64), vg.Length(cos64)
	pt.X, pt.Y = pt.Y*sin+pt.X*cos, pt.Y*cos-pt.X*sin

	width, height, depth := h.Box(txt, sty.Font)
	pt.X += vg.Length(sty.XAlign) * width
	pt.Y += vg.Length(sty.YAlign)*(height+depth) - height + sty.Font.Size
	for _, r := range h.runs(txt) {
		face, at := h.face(r, sty.Font), pt
		if r.Sub {
			at.Y -= subDrop * sty.Font.Size
		}
		if r.Text != "" {
			c.FillString(face, at, r.Text)
		}
		pt.X += face.Width(r.Text)
	}
}

package reports

import (
	"image"
	"math"

	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/vg"
)

// paper is the canvas under every figure. It enlarges all by Zoom, the widths
// of lines included, which not every canvas does by itself; it draws arcs as
// Bézier curves, since the PDF canvas strokes an arc apart from its path; and
// it draws text as filled outlines, so that a figure looks the same where its
// font is not installed, and so that µ and Ω survive the 8-bit code page of the
// PDF canvas.
type paper struct {
	vg.Canvas
	Zoom   vg.Length
	Pieces bool // see strokePieces

	dashed bool
}

// SetLineWidth implements vg.Canvas.
func (c *paper) SetLineWidth(w vg.Length) { c.Canvas.SetLineWidth(w * c.Zoom) }

// SetLineDash implements vg.Canvas.
func (c *paper) SetLineDash(pattern []vg.Length, offset vg.Length) {
	c.dashed = len(pattern) > 0
	c.Canvas.SetLineDash(each(pattern, func(l vg.Length) vg.Length { return l * c.Zoom }), offset*c.Zoom)
}

// Translate implements vg.Canvas.
func (c *paper) Translate(pt vg.Point) { c.Canvas.Translate(pt.Scale(c.Zoom)) }

// Stroke implements vg.Canvas.
func (c *paper) Stroke(p vg.Path) {
	if c.Pieces && !c.dashed {
		c.strokePieces(c.path(p))
		return
	}
	c.Canvas.Stroke(c.path(p))
}

// pieceLength is how many corners of a line are drawn in one go.
const pieceLength = 40

// strokePieces draws a long line piece by piece, each with the last stretch of
// the one before it, so that the corner between them is drawn as a corner. The
// time that the PNG canvas takes grows with the square of how often a line
// passes a row of pixels: minutes for a noisy record in one go.
func (c *paper) strokePieces(p vg.Path) {
	if p[0].Type != vg.MoveComp || !allLines(p[1:]) {
		c.Canvas.Stroke(p)
		return
	}
	for ; len(p) > pieceLength; p = p[pieceLength-2:] {
		c.Canvas.Stroke(p[:pieceLength])
		p[pieceLength-2].Type = vg.MoveComp
	}
	c.Canvas.Stroke(p)
}

func allLines(p vg.Path) bool {
	for _, comp := range p {
		if comp.Type != vg.LineComp {
			return false
		}
	}
	return true
}

// Fill implements vg.Canvas.
func (c *paper) Fill(p vg.Path) { c.Canvas.Fill(c.path(p)) }

// DrawImage implements vg.Canvas.
func (c *paper) DrawImage(r vg.Rectangle, img image.Image) {
	c.Canvas.DrawImage(vg.Rectangle{Min: r.Min.Scale(c.Zoom), Max: r.Max.Scale(c.Zoom)}, img)
}

// FillString implements vg.Canvas.
func (c *paper) FillString(face font.Face, pt vg.Point, txt string) {
	c.Fill(outline(face, pt, txt))
}

func (c *paper) path(p vg.Path) vg.Path {
	out := make(vg.Path, 0, len(p))
	for _, comp := range p {
		if comp.Type == vg.ArcComp {
			out = c.arc(out, comp)
			continue
		}
		comp.Pos = comp.Pos.Scale(c.Zoom)
		comp.Control = each(comp.Control, func(pt vg.Point) vg.Point { return pt.Scale(c.Zoom) })
		out = append(out, comp)
	}
	return out
}

// arc adds an arc as cubic curves of an eighth of a turn at most, each with its
// control points at 4/3·tan(a/4) along the tangents: off by 4e-6 of the radius.
func (c *paper) arc(path vg.Path, arc vg.PathComp) vg.Path {
	n := max(1, int(math.Ceil(math.Abs(arc.Angle)/(math.Pi/4)-1e-9)))
	step := arc.Angle / float64(n)
	k := 4.0 / 3 * math.Tan(step/4)
	at := func(angle, along float64) vg.Point {
		sin, cos := math.Sincos(angle)
		offset := vg.Point{X: vg.Length(cos - along*sin), Y: vg.Length(sin + along*cos)}
		return arc.Pos.Add(offset.Scale(arc.Radius)).Scale(c.Zoom)
	}
	if len(path) == 0 {
		path.Move(at(arc.Start, 0))
	} else {
		path.Line(at(arc.Start, 0))
	}
	for i := range n {
		from, to := arc.Start+float64(i)*step, arc.Start+float64(i+1)*step
		path.CubeTo(at(from, k), at(to, -k), at(to, 0))
	}
	return path
}

package reports

import (
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"

	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/vg"
)

// outline returns the outlines of a text whose baseline starts at pt.
func outline(face font.Face, pt vg.Point, txt string) vg.Path {
	var buf sfnt.Buffer
	var path vg.Path
	em := face.Face.UnitsPerEm()
	scale := face.Font.Size / vg.Length(em)
	letters := []rune(txt)
	for i, r := range letters {
		glyph, err := face.Face.GlyphIndex(&buf, r)
		if err != nil {
			panic("reports: the built-in font is damaged: " + err.Error())
		}
		// One unit of the font is one pixel here; segments are in 1/64 of it.
		segments, err := face.Face.LoadGlyph(&buf, glyph, fixed.I(int(em)), nil)
		if err != nil {
			panic("reports: the built-in font is damaged: " + err.Error())
		}
		at := vg.Point{X: pt.X + face.Width(string(letters[:i+1])) - face.Width(string(r)), Y: pt.Y}
		path = appendGlyph(path, segments, at, scale/64)
	}
	return path
}

// appendGlyph adds the outline of a glyph, whose y axis points down.
func appendGlyph(path vg.Path, segments sfnt.Segments, at vg.Point, scale vg.Length) vg.Path {
	point := func(p fixed.Point26_6) vg.Point {
		return vg.Point{X: at.X + vg.Length(p.X)*scale, Y: at.Y - vg.Length(p.Y)*scale}
	}
	for i, s := range segments {
		switch s.Op {
		case sfnt.SegmentOpMoveTo:
			if i > 0 {
				path.Close()
			}
			path.Move(point(s.Args[0]))
		case sfnt.SegmentOpLineTo:
			path.Line(point(s.Args[0]))
		case sfnt.SegmentOpQuadTo:
			path.QuadTo(point(s.Args[0]), point(s.Args[1]))
		case sfnt.SegmentOpCubeTo:
			path.CubeTo(point(s.Args[0]), point(s.Args[1]), point(s.Args[2]))
		}
	}
	if len(segments) > 0 {
		path.Close()
	}
	return path
}

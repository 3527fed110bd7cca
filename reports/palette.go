package reports

import (
	"image/color"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// pen is how one kind of line is drawn. The colours differ in luminance as
// well as in hue, and each kind of trace also has its own width, so that a
// copy in grey or an eye that mixes hues up still tells them apart.
type pen struct {
	Color color.RGBA
	Width vg.Length
	Dash  []vg.Length
}

func (p pen) style() draw.LineStyle {
	return draw.LineStyle{Color: p.Color, Width: p.Width, Dashes: p.Dash}
}

// Pens of the traces, then of what is drawn around them.
func voltagePen() pen { return pen{Color: color.RGBA{0x12, 0x2f, 0x6e, 0xff}, Width: 1.2} }
func currentPen() pen { return pen{Color: color.RGBA{0xc4, 0x4a, 0x0c, 0xff}, Width: 1.2} }
func gatePen() pen    { return pen{Color: color.RGBA{0x00, 0x6d, 0x62, 0xff}, Width: 1.0} }
func powerPen() pen   { return pen{Color: color.RGBA{0x6a, 0x0f, 0x49, 0xff}, Width: 1.2} }
func energyPen() pen  { return pen{Color: color.RGBA{0x1a, 0x1a, 0x1a, 0xff}, Width: 1.5} }
func rawPen() pen     { return pen{Color: color.RGBA{0x8c, 0x8c, 0x8c, 0xff}, Width: 0.5} }
func gridPen() pen    { return pen{Color: color.RGBA{0xe8, 0xe8, 0xe8, 0xff}, Width: 0.4} }
func framePen() pen   { return pen{Color: color.RGBA{0x55, 0x55, 0x55, 0xff}, Width: 0.6} }

// basePen draws the base of the levels, levelPen the 10 and 90 % of it,
// eventPen the instant of an event.
func basePen() pen {
	return pen{Color: color.RGBA{0x50, 0x50, 0x50, 0xff}, Width: 0.6, Dash: []vg.Length{5, 2}}
}
func levelPen() pen {
	return pen{Color: color.RGBA{0x78, 0x78, 0x78, 0xff}, Width: 0.5, Dash: []vg.Length{1, 2}}
}
func eventPen() pen {
	return pen{Color: color.RGBA{0x50, 0x50, 0x50, 0xff}, Width: 0.5, Dash: []vg.Length{3, 2, 1, 2}}
}

// windowFill shades the energy window.
func windowFill() color.RGBA { return color.RGBA{0xfb, 0xe9, 0xb7, 0xff} }

func ink() color.RGBA { return color.RGBA{0x1a, 0x1a, 0x1a, 0xff} }

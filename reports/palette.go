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

// ramp is our sequential palette, from amber for the least over brick and plum
// to night blue for the most. Its luminance falls steadily, so that the order
// survives in grey, and it runs from yellow to blue, which every common kind of
// colour blindness tells apart.
func ramp(x float64) color.RGBA {
	stops := [][3]float64{{0xd9, 0x8a, 0x1a}, {0xb4, 0x4c, 0x34}, {0x74, 0x26, 0x5c}, {0x0f, 0x12, 0x3c}}
	at := min(max(x, 0), 1) * float64(len(stops)-1)
	k := min(int(at), len(stops)-2)
	mix := func(c int) uint8 { return uint8(stops[k][c] + (at-float64(k))*(stops[k+1][c]-stops[k][c]) + 0.5) }
	return color.RGBA{mix(0), mix(1), mix(2), 0xff}
}

// overlayPen is the k-th of n pens of an overlay: its own colour, and neighbours
// differ in their dashes as well.
func overlayPen(k, n int) pen {
	dashes := [][]vg.Length{nil, {6, 2}, {2, 1.5}, {7, 2, 1.5, 2}}
	return pen{Color: ramp(float64(k) / float64(max(n-1, 1))), Width: 1.1, Dash: dashes[k%len(dashes)]}
}

// densityColor is the k-th of n shades of a density, from a pale one on.
func densityColor(k, n int) color.RGBA {
	if k == 0 {
		return color.RGBA{0xf2, 0xd5, 0xa0, 0xff}
	}
	return ramp(float64(k-1) / float64(max(n-2, 1)))
}

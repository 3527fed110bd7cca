package reports

import (
	"image/color"
	"math"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"slewbook/waveform"
)

// panel is one pair of axes of a figure. Times are those of the capture [s],
// values are in SI base units; only the labels of the axes are scaled.
type panel struct {
	Name     string       // what it shows, for the CSV
	Unit     string       // of its values, SI base
	XBase    string       // unit of the axis of X where that is no time, SI base
	Log      bool         // both axes are logarithmic
	Floor    float64      // where the logarithmic axis of Y begins
	Given    bool         // limits of the set-up are drawn
	Area     vg.Rectangle // of the data on the page
	X        waveform.Interval
	Zero     float64 // time that the axis labels 0
	XUnit    float64 // displayed unit of time, in s
	YUnit    float64 // displayed unit of the values, in base units
	TimeAxis bool    // false where a panel below carries it
	XLabel   string
	XMore    string // added to it where there is room
	YLabel   string
	Window   waveform.Interval // shaded; zero if there is none
	More     []waveform.Interval
	Events   []event
	Levels   []level
	Density  *density          // under the curves, nil if there is none
	Rows     []row             // in place of all others, if there are any
	LabelsAt vg.Length         // where their labels begin on the page
	TickOver waveform.Interval // where the axis of X has ticks; all of it if it has no length
	Tight    bool              // the axis of Y does not begin at zero
	Curves   []curve
	Dots     []dot
	Over     []waveform.Interval // over range at the top
	Under    []waveform.Interval // over range at the bottom
	Marks    []mark
}

type event struct {
	T     float64
	Label string
}

// level is a horizontal line, labelled or not.
type level struct {
	Y     float64
	Name  string // for the CSV
	Pen   pen
	Label string
}

type curve struct {
	Name  string // for the CSV
	Pen   pen
	Lines []plotter.XYs
}

type mark struct {
	T, Y  float64
	Label string
	Pen   pen
	Bare  bool // a label only, at something that is drawn already
}

// yRange returns the range of everything that is drawn, zero included, with
// some room.
func (p *panel) yRange() (lo, hi float64) {
	if p.Tight {
		lo, hi = math.Inf(1), math.Inf(-1)
	}
	for _, c := range p.Curves {
		for _, line := range c.Lines {
			for _, pt := range line {
				lo, hi = min(lo, pt.Y), max(hi, pt.Y)
			}
		}
	}
	for _, l := range p.Levels {
		lo, hi = min(lo, l.Y), max(hi, l.Y)
	}
	for _, d := range p.Dots {
		half := 0.0
		if known(d.U) {
			half = 2 * d.U
		}
		lo, hi = min(lo, d.Y-half), max(hi, d.Y+half)
	}
	if d := p.Density; d != nil {
		lo, hi = min(lo, d.Lo), max(hi, d.Hi)
	}
	if math.IsInf(lo, 1) {
		lo, hi = 0, 0
	}
	if lo == hi {
		return lo - p.YUnit, hi + p.YUnit
	}
	if p.Log {
		return max(p.Floor, hi*1e-9), hi * 1.3
	}
	room := 0.09 * (hi - lo)
	if len(p.Dots) > 0 && lo == 0 {
		return 0, hi + room // a chart stands on its zero
	}
	return lo - room, hi + room
}

// plot returns the axes of the panel; the panel itself is their only plotter.
func (p *panel) plot(f *Figure) *plot.Plot {
	plt := plot.New()
	plt.BackgroundColor = nil
	plt.X.Min, plt.X.Max = p.X.From, p.X.To
	plt.Y.Min, plt.Y.Max = p.yRange()
	width, height := p.Area.Max.X-p.Area.Min.X, p.Area.Max.Y-p.Area.Min.Y
	step := vg.Length(38)
	if len(p.Rows) > 0 {
		width *= vg.Length(p.TickOver.Duration() / p.X.Duration())
		step = 20
	}
	plt.X.Tick.Marker = ticks{Zero: p.Zero, Unit: p.XUnit, Most: min(max(3, int(width/step)), 14), Labels: p.TimeAxis, Over: p.TickOver}
	plt.Y.Tick.Marker = ticks{Unit: p.YUnit, Most: min(max(2, int(height/11)), 10), Labels: true}
	if p.Log {
		plt.X.Scale, plt.Y.Scale = plot.LogScale{}, plot.LogScale{}
		plt.X.Tick.Marker, plt.Y.Tick.Marker = decadeTicks{p.XUnit}, decadeTicks{p.YUnit}
	}
	if len(p.Rows) > 0 {
		plt.Y.Min, plt.Y.Max, plt.Y.Tick.Marker = 0, 1, plot.ConstantTicks(nil)
	}
	for _, axis := range []*plot.Axis{&plt.X, &plt.Y} {
		axis.Padding = 0
		axis.LineStyle.Width = 0 // the panel draws its own frame
		axis.Tick.LineStyle = framePen().style()
		axis.Tick.Length = 3
		axis.Tick.Label.Font = f.font(7.5)
		axis.Tick.Label.Color = ink()
	}
	plt.Add(p)
	return plt
}

// draw draws the panel so that its data area is exactly p.Area, whatever room
// the tick labels need.
func (p *panel) draw(c draw.Canvas, f *Figure) {
	plt := p.plot(f)
	outer := draw.Canvas{Canvas: c.Canvas, Rectangle: p.Area}
	for range 4 { // the room depends a little on the size: settle it
		data := plt.DataCanvas(outer)
		outer.Min = outer.Min.Add(p.Area.Min.Sub(data.Min))
		outer.Max = outer.Max.Add(p.Area.Max.Sub(data.Max))
	}
	plt.Draw(outer)
	side := f.text(8, subs)
	side.Rotation, side.XAlign, side.YAlign = math.Pi/2, draw.XCenter, draw.YBottom
	c.FillText(side, vg.Point{X: p.Area.Min.X - 30, Y: (p.Area.Min.Y + p.Area.Max.Y) / 2}, p.YLabel)
	if p.TimeAxis {
		below, txt := f.text(8, subs), p.XLabel+p.XMore
		below.XAlign, below.YAlign = draw.XCenter, draw.YTop
		if below.Width(txt) > p.Area.Max.X-p.Area.Min.X {
			txt = p.XLabel
		}
		c.FillText(below, vg.Point{X: (p.Area.Min.X + p.Area.Max.X) / 2, Y: p.Area.Min.Y - 15}, txt)
	}
	if len(p.Rows) > 0 {
		area := draw.Canvas{Canvas: c.Canvas, Rectangle: p.Area}
		x, _ := plt.Transforms(&area)
		p.drawRows(c, x, f)
		return
	}
	p.drawLabels(c, plt, f)
}

// Plot implements plot.Plotter.
func (p *panel) Plot(c draw.Canvas, plt *plot.Plot) {
	x, y := plt.Transforms(&c)
	if p.Window.Duration() > 0 {
		shade(c, x(p.Window.From), x(p.Window.To))
	}
	for _, w := range p.More {
		shade(c, x(w.From), x(w.To))
	}
	for _, t := range plt.X.Tick.Marker.Ticks(plt.X.Min, plt.X.Max) {
		c.StrokeLine2(gridPen().style(), x(t.Value), c.Min.Y, x(t.Value), c.Max.Y)
	}
	for _, t := range plt.Y.Tick.Marker.Ticks(plt.Y.Min, plt.Y.Max) {
		c.StrokeLine2(gridPen().style(), c.Min.X, y(t.Value), c.Max.X, y(t.Value))
	}
	if p.Density != nil {
		p.Density.draw(c, x, y)
	}
	for _, l := range p.Levels {
		c.StrokeLine2(l.Pen.style(), c.Min.X, y(l.Y), c.Max.X, y(l.Y))
	}
	for _, e := range p.Events {
		c.StrokeLine2(eventPen().style(), x(e.T), c.Min.Y, x(e.T), c.Max.Y)
	}
	for _, curve := range p.Curves {
		for _, line := range points(curve.Lines, x, y) {
			c.StrokeLines(curve.Pen.style(), c.ClipLinesX(line)...)
		}
	}
	drawDots(c, p.Dots, x, y)
	for _, iv := range p.Over {
		bar(c, x(iv.From), x(iv.To), c.Max.Y-3, c.Max.Y)
	}
	for _, iv := range p.Under {
		bar(c, x(iv.From), x(iv.To), c.Min.Y, c.Min.Y+3)
	}
	frame := []vg.Point{c.Min, {X: c.Max.X, Y: c.Min.Y}, c.Max, {X: c.Min.X, Y: c.Max.Y}, c.Min}
	c.StrokeLines(framePen().style(), frame)
	for _, m := range p.Marks {
		if m.Bare {
			continue
		}
		drawMark(c, m, vg.Point{X: x(m.T), Y: y(m.Y)})
	}
}

// drawLabels puts the labels of marks, levels and over-range bars where they
// cover least.
func (p *panel) drawLabels(c draw.Canvas, plt *plot.Plot, f *Figure) {
	area := draw.Canvas{Canvas: c.Canvas, Rectangle: p.Area}
	x, y := plt.Transforms(&area)
	room := placer{area: p.Area, lines: barLines(p.Dots, x, y)}
	for _, curve := range p.Curves {
		room.lines = append(room.lines, points(curve.Lines, x, y)...)
	}
	for _, m := range p.Marks {
		at := vg.Point{X: x(m.T), Y: y(m.Y)}
		room.marks = append(room.marks, at)
		room.taken = append(room.taken, vg.Rectangle{Min: at.Sub(vg.Point{X: 5, Y: 5}), Max: at.Add(vg.Point{X: 5, Y: 5})})
	}
	small := f.text(6.5, subs)
	p.drawEventLabels(area, x, small)
	for _, m := range p.Marks {
		at := vg.Point{X: x(m.T), Y: y(m.Y)}
		label(area, small, m.Label, at, room.place(at, labelSize(small, m.Label)))
	}
	for _, l := range p.Levels {
		if l.Label != "" {
			at := room.along(y(l.Y), labelSize(small, l.Label))
			label(area, small, l.Label, at.Min, at)
		}
	}
	for _, side := range []struct {
		ivs []waveform.Interval
		y   vg.Length
	}{{p.Over, p.Area.Max.Y - 3}, {p.Under, p.Area.Min.Y + 3}} {
		if len(side.ivs) > 0 {
			at := vg.Point{X: x(side.ivs[0].From), Y: side.y}
			label(area, small, "over range", at, room.place(at, labelSize(small, "over range")))
		}
	}
}

func shade(c draw.Canvas, from, to vg.Length) {
	// A window narrower than a hairline still shows.
	bar := vg.Rectangle{
		Min: vg.Point{X: max(from, c.Min.X), Y: c.Min.Y},
		Max: vg.Point{X: min(max(to, from+0.7), c.Max.X), Y: c.Max.Y},
	}
	if bar.Min.X < bar.Max.X {
		c.SetColor(windowFill())
		c.Fill(bar.Path())
	}
}

// bar marks where a trace was over range, at the edge that it left through.
func bar(c draw.Canvas, from, to, bottom, top vg.Length) {
	c.SetColor(color.RGBA{0xb0, 0x00, 0x20, 0xff})
	r := vg.Rectangle{Min: vg.Point{X: from, Y: bottom}, Max: vg.Point{X: max(to, from+1), Y: top}}
	c.Fill(r.Path())
}

func drawMark(c draw.Canvas, m mark, at vg.Point) {
	c.DrawGlyph(draw.GlyphStyle{Color: color.White, Radius: 2.1, Shape: draw.CircleGlyph{}}, at)
	if !c.Contains(at) {
		return
	}
	var ring vg.Path
	ring.Move(vg.Point{X: at.X + 2.1, Y: at.Y})
	ring.Arc(at, 2.1, 0, 2*math.Pi)
	ring.Close()
	c.SetLineStyle(draw.LineStyle{Color: m.Pen.Color, Width: 1})
	c.Stroke(ring)
}

// points turns lines in data units into lines on the page.
func points(lines []plotter.XYs, x, y func(float64) vg.Length) [][]vg.Point {
	return each(lines, func(line plotter.XYs) []vg.Point {
		return each(line, func(pt plotter.XY) vg.Point { return vg.Point{X: x(pt.X), Y: y(pt.Y)} })
	})
}

// drawEventLabels names the events above the panel, leaving out a label that
// would run into the one before it.
func (p *panel) drawEventLabels(c draw.Canvas, x func(float64) vg.Length, style text.Style) {
	style.XAlign, style.YAlign = draw.XCenter, draw.YBottom
	end := vg.Length(math.Inf(-1))
	for _, e := range p.Events {
		half := style.Width(e.Label) / 2
		if e.Label == "" || x(e.T)-half < end+3 {
			continue
		}
		c.FillText(style, vg.Point{X: x(e.T), Y: p.Area.Max.Y + 2}, e.Label)
		end = x(e.T) + half
	}
}

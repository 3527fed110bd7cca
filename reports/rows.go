package reports

import (
	"math"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"slewbook/waveform"
)

// row is one line of a panel that lists values below each other: a bar from zero,
// or a dot with a bar of two standard uncertainties.
type row struct {
	Label string
	Note  string // at the right end
	X, U  float64
	Dot   bool
	Pen   pen
}

// rowRange returns the values that the rows take, with some room.
func rowRange(rows []row) waveform.Interval {
	iv := waveform.Interval{From: math.Inf(1), To: math.Inf(-1)}
	for _, r := range rows {
		half := 0.0
		if known(r.U) {
			half = 2 * r.U
		}
		lo, hi := r.X-half, r.X+half
		if !r.Dot {
			lo, hi = min(0, r.X), max(0, r.X)
		}
		if lo-lo == 0 {
			iv.From, iv.To = min(iv.From, lo), max(iv.To, hi)
		}
	}
	if !(iv.To > iv.From) {
		room := max(math.Abs(iv.To)/20, math.SmallestNonzeroFloat32)
		iv = waveform.Interval{From: iv.To - room, To: iv.To + room}
	}
	room := 0.05 * iv.Duration()
	return waveform.Interval{From: iv.From - room, To: iv.To + room}
}

// rowRoom returns how much of the panel's width the labels take on the left and
// the notes on the right.
func (p *panel) rowRoom(f *Figure) (left, right vg.Length) {
	style := f.text(rowSize, subs)
	for _, r := range p.Rows {
		left, right = max(left, style.Width(r.Label)), max(right, style.Width(r.Note))
	}
	return max(left+5-(axisRoom-rowIndent), 0), right + 8
}

const (
	rowSize   = 6.5
	rowIndent = 6 // of the labels, from where the panel's room begins
)

// placeRows makes room for the labels in front of the panel and for the notes
// inside it, without ticks under them.
func (p *panel) placeRows(f *Figure) {
	left, right := p.rowRoom(f)
	p.LabelsAt = p.Area.Min.X - axisRoom + rowIndent
	p.Area.Min.X += left
	data := p.X
	per := data.Duration() / max(float64(p.Area.Max.X-p.Area.Min.X-right), 10)
	p.X.To += per * float64(right)
	p.TickOver = data
}

// drawRows draws the rows from the top down.
func (p *panel) drawRows(c draw.Canvas, x func(float64) vg.Length, f *Figure) {
	height := (p.Area.Max.Y - p.Area.Min.Y) / vg.Length(len(p.Rows))
	style := f.text(rowSize, subs)
	style.YAlign = draw.YCenter
	note := style
	note.XAlign = draw.XRight
	for k, r := range p.Rows {
		y := p.Area.Max.Y - (vg.Length(k)+0.5)*height
		at := y + style.FontExtents().Descent/2
		c.FillText(style, vg.Point{X: p.LabelsAt, Y: at}, r.Label)
		c.FillText(note, vg.Point{X: p.Area.Max.X - 4, Y: at}, r.Note)
		switch {
		case r.X-r.X != 0:
		case r.Dot:
			drawDots(c, []dot{{X: 0, Y: 0, UX: r.U, U: math.NaN(), Pen: r.Pen}}, func(d float64) vg.Length { return x(r.X + d) }, func(float64) vg.Length { return y })
		default:
			half := min(height*0.32, 4)
			from, to := x(min(0, r.X)), x(max(0, r.X))
			c.SetColor(r.Pen.Color)
			bar := vg.Rectangle{Min: vg.Point{X: from, Y: y - half}, Max: vg.Point{X: max(to, from+0.7), Y: y + half}}
			c.Fill(bar.Path())
		}
	}
	if p.X.Contains(0) && !p.Rows[0].Dot {
		c.StrokeLine2(framePen().style(), x(0), p.Area.Min.Y, x(0), p.Area.Max.Y)
	}
}

package reports

import (
	"math"

	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"slewbook/dpt/result"
	"slewbook/waveform"
)

// Cells of a density.
const (
	densityColumns = 400
	densityRows    = 240
)

// density counts for each cell of a panel how many of the shots pass it.
type density struct {
	X      waveform.Interval // [s]
	Lo, Hi float64           // of the values
	Count  [densityColumns][densityRows]int
	Steps  []int // least counts of the shades, ascending
}

// densitySteps returns the least counts of the shades for n shots: one shot
// always shows.
func densitySteps(n int) []int {
	steps := []int{1}
	for _, share := range []float64{0.05, 0.1, 0.25, 0.5, 0.75} {
		if k := int(math.Ceil(share * float64(n))); k > steps[len(steps)-1] {
			steps = append(steps, k)
		}
	}
	return steps
}

func newDensity(group []Cut, role result.Role, x waveform.Interval, steps []int) *density {
	d := &density{X: x, Lo: math.Inf(1), Hi: math.Inf(-1), Steps: steps}
	lines := each(group, func(c Cut) []plotter.XYs { return inside(c.curves[role], x) })
	for _, shot := range lines {
		for _, line := range shot {
			for _, pt := range line {
				d.Lo, d.Hi = min(d.Lo, pt.Y), max(d.Hi, pt.Y)
			}
		}
	}
	if !(d.Lo < d.Hi) {
		d.Lo, d.Hi = d.Lo-1, d.Hi+1
	}
	for _, shot := range lines {
		d.add(shot)
	}
	return d
}

// add counts one shot: in every column all cells that its curve passes.
func (d *density) add(lines []plotter.XYs) {
	var lo, hi [densityColumns]float64
	for k := range lo {
		lo[k], hi[k] = math.Inf(1), math.Inf(-1)
	}
	for _, line := range lines {
		for k, pt := range line {
			d.reach(&lo, &hi, line[max(k-1, 0)], pt)
		}
	}
	for k := range d.Count {
		if lo[k] > hi[k] {
			continue
		}
		for row := d.row(lo[k]); row <= d.row(hi[k]); row++ {
			d.Count[k][row]++
		}
	}
}

// reach widens the range of values of each column by what the piece from a to b
// passes inside it.
func (d *density) reach(lo, hi *[densityColumns]float64, a, b plotter.XY) {
	column := func(t float64) float64 { return (t - d.X.From) / d.X.Duration() * densityColumns }
	from, to := column(a.X), column(b.X)
	at := func(col float64) float64 {
		if to <= from {
			return b.Y
		}
		return a.Y + (b.Y-a.Y)*(col-from)/(to-from)
	}
	for k := max(0, int(math.Floor(from))); k <= int(math.Floor(to)) && k < densityColumns; k++ {
		y0, y1 := at(max(from, float64(k))), at(min(to, float64(k+1)))
		lo[k], hi[k] = min(lo[k], y0, y1), max(hi[k], y0, y1)
	}
}

func (d *density) row(y float64) int {
	return min(max(0, int((y-d.Lo)/(d.Hi-d.Lo)*densityRows)), densityRows-1)
}

// draw fills the cells, shade by shade, each over the one before.
func (d *density) draw(c draw.Canvas, x, y func(float64) vg.Length) {
	column := func(k int) vg.Length { return x(d.X.From + float64(k)/densityColumns*d.X.Duration()) }
	row := func(k int) vg.Length { return y(d.Lo + float64(k)/densityRows*(d.Hi-d.Lo)) }
	const overlap = 0.25 // [pt], so that no light shows between neighbours
	for shade, least := range d.Steps {
		c.SetColor(densityColor(shade, len(d.Steps)))
		for k := range d.Count {
			var path vg.Path
			for _, run := range d.runs(k, least) {
				r := vg.Rectangle{Min: vg.Point{X: column(k), Y: row(run[0])}, Max: vg.Point{X: min(column(k+1)+overlap, c.Max.X), Y: row(run[1])}}
				path = append(path, r.Path()...)
			}
			if len(path) > 0 {
				c.Fill(path)
			}
		}
	}
}

// runs lists the rows of a column, from and to, that at least so many shots
// pass.
func (d *density) runs(k, least int) [][2]int {
	var out [][2]int
	for row, n := range d.Count[k] {
		switch {
		case n < least:
		case len(out) > 0 && out[len(out)-1][1] == row:
			out[len(out)-1][1]++
		default:
			out = append(out, [2]int{row, row + 1})
		}
	}
	return out
}

// center returns the middle of a cell.
func (d *density) center(column, row int) (t, y float64) {
	return d.X.From + (float64(column)+0.5)/densityColumns*d.X.Duration(), d.Lo + (float64(row)+0.5)/densityRows*(d.Hi-d.Lo)
}

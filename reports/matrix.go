package reports

import (
	"fmt"
	"image/color"
	"io"
	"slices"
	"strings"

	"gonum.org/v1/plot/vg"

	"slewbook/dpt/result"
)

// matrixBlock is the part of a matrix under like other conditions: bus voltages
// down, load currents across. A cell that was neither planned nor found is nil.
type matrixBlock struct {
	where        string
	volts, amps  []float64
	cells        [][]*result.MatrixCell
	measured, of int
}

// matrixBlocks lays the cells out.
func matrixBlocks(m result.Matrix, ascii bool) []matrixBlock {
	var out []matrixBlock
	for start := 0; start < len(m.Cells); {
		where := matrixWhere(m.Cells[start], ascii)
		end := start
		for end < len(m.Cells) && matrixWhere(m.Cells[end], ascii) == where {
			end++
		}
		out = append(out, newMatrixBlock(where, m.Cells[start:end]))
		start = end
	}
	return out
}

func matrixWhere(c result.MatrixCell, ascii bool) string {
	return strings.Join(each(c.Where, func(c result.Condition) string {
		if known(c.Value) {
			c.Text = "" // the value decides, not how it was written
			if c.Unit == "K" {
				c.Text = trimmed(c.Value-celsius, 2) + " °C"
			}
		}
		return unitLabel(printable(conditionText(c), false), ascii)
	}), "; ")
}

func newMatrixBlock(where string, cells []result.MatrixCell) matrixBlock {
	b := matrixBlock{where: where}
	for _, c := range cells {
		b.volts, b.amps = append(b.volts, c.PlanV), append(b.amps, c.PlanI)
		b.measured += c.Measured
		b.of += c.Planned
	}
	slices.Sort(b.volts)
	slices.Sort(b.amps)
	b.volts, b.amps = slices.Compact(b.volts), slices.Compact(b.amps)
	for range b.volts {
		b.cells = append(b.cells, make([]*result.MatrixCell, len(b.amps)))
	}
	for k := range cells {
		b.cells[slices.Index(b.volts, cells[k].PlanV)][slices.Index(b.amps, cells[k].PlanI)] = &cells[k]
	}
	return b
}

// matrixText is a cell in words: measured of planned, and what came of the rest.
func matrixText(c *result.MatrixCell, planned bool) string {
	if c == nil {
		return ""
	}
	text := fmt.Sprint(c.Measured)
	switch {
	case planned && c.Planned == 0:
		text += " extra"
	case planned:
		text += fmt.Sprintf("/%d", c.Planned)
	}
	if n := len(c.Refused); n > 0 {
		text += fmt.Sprintf(" r%d", n)
	}
	if n := len(c.Missing); n > 0 {
		text += fmt.Sprintf(" m%d", n)
	}
	return text
}

// matrixLegend says how to read the cells.
func matrixLegend(planned bool) string {
	if planned {
		return "shots measured / planned; r: refused or failed, m: missing from the folder, extra: not in the list"
	}
	return "shots measured; r: refused or failed (no list told how many were planned)"
}

// WriteMatrixText writes the matrix of a campaign for people: nothing where no
// shot has a planned voltage and current.
func WriteMatrixText(w io.Writer, m result.Matrix, opt TextOptions) error {
	if len(m.Cells) == 0 {
		return nil
	}
	if _, err := fmt.Fprintf(w, "\n%s\n%s\n", opt.paint(bold, "Matrix of the campaign"), matrixLegend(m.Planned)); err != nil {
		return err
	}
	for _, b := range matrixBlocks(m, opt.ASCII) {
		rows := [][]string{append([]string{"v_bus \\ i_load"}, each(b.amps, func(x float64) string { return trimmed(x, 3) + " A" })...)}
		for k, v := range b.volts {
			rows = append(rows, append([]string{trimmed(v, 3) + " V"}, each(b.cells[k], func(c *result.MatrixCell) string { return matrixText(c, m.Planned) })...))
		}
		if b.where != "" {
			if _, err := fmt.Fprintf(w, "%s\n", b.where); err != nil {
				return err
			}
		}
		if err := WriteRows(w, rows, opt.ASCII); err != nil {
			return err
		}
	}
	if m.Outside > 0 {
		_, err := fmt.Fprintf(w, "%d shot(s) without a planned voltage and current stand in no cell\n", m.Outside)
		return err
	}
	return nil
}

// MatrixRows returns the matrix as a table in SI base units, a row a cell.
func MatrixRows(m result.Matrix) [][]string {
	var where conditionColumns
	for _, c := range m.Cells {
		where.see(&result.Shot{Conditions: c.Where})
	}
	rows := [][]string{append(slices.Clone(where.headers), "v_bus planned [V]", "i_load planned [A]", "planned", "measured", "refused", "missing",
		"v_bus measured, mean [V]", "i_load measured, mean [A]", "captures refused", "captures missing")}
	for _, c := range m.Cells {
		values := where.values(&result.Shot{Conditions: c.Where})
		row := each(where.headers, func(h string) string {
			if c, ok := values[h]; ok {
				return conditionValue(c)
			}
			return ""
		})
		planned := ""
		if m.Planned {
			planned = fmt.Sprint(c.Planned)
		}
		rows = append(rows, append(row, csvFloat(c.PlanV), csvFloat(c.PlanI), planned, fmt.Sprint(c.Measured), fmt.Sprint(len(c.Refused)), fmt.Sprint(len(c.Missing)),
			csvFloat(c.V.Value()), csvFloat(c.I.Value()), csvText(strings.Join(c.Refused, "; ")), csvText(strings.Join(c.Missing, "; "))))
	}
	return rows
}

// tile is a filled rectangle with a frame.
type tile struct {
	area vg.Rectangle
	fill color.RGBA
}

const (
	tileWidth  = 58
	tileHeight = 22
	tileHead   = 52 // room for the voltages

	matrixLeast = 400 // width that the legend needs
)

// DrawMatrix draws the matrix: a tile a point, its state in words and in shade.
func DrawMatrix(m result.Matrix, style Style) (*Figure, error) {
	if err := style.Validate(); err != nil {
		return nil, err
	}
	f := newFigure(style, "matrix")
	margin := style.length(style.Margin)
	blocks := matrixBlocks(m, false)
	f.width = matrixLeast
	need := margin + 46
	for _, b := range blocks {
		f.width = max(f.width, 2*margin+tileHead+vg.Length(len(b.amps))*tileWidth)
		need += vg.Length(len(b.volts))*tileHeight + 40
	}
	f.height = need + margin + 24
	y := f.put(margin, f.height-margin, []heading{{12, 17, plain, "Matrix of the campaign"}, {8, 14, plain, matrixLegend(m.Planned)}})
	for _, b := range blocks {
		y = f.matrixBlock(b, m.Planned, margin, y)
	}
	f.matrixKey(margin, y)
	return f, nil
}

// matrixBlock draws one block and returns where the next may start.
func (f *Figure) matrixBlock(b matrixBlock, planned bool, left, y vg.Length) vg.Length {
	write := func(x, y, size vg.Length, text string) {
		f.texts = append(f.texts, line{at: vg.Point{X: x, Y: y}, size: size, text: text})
	}
	if b.where != "" {
		write(left, y, 8, minus(b.where))
	}
	y -= 12
	write(left, y, 7, "bus voltage")
	for k, x := range b.amps {
		write(left+tileHead+vg.Length(k)*tileWidth+4, y, 7, trimmed(x, 3)+" A")
	}
	y -= 11
	for k, v := range b.volts {
		write(left, y-7, 7, trimmed(v, 3)+" V")
		for n, c := range b.cells[k] {
			at := vg.Point{X: left + tileHead + vg.Length(n)*tileWidth, Y: y - tileHeight + 2}
			if c != nil {
				f.tile(at, matrixFill(c))
				write(at.X+4, y-6, 8, matrixText(c, planned))
			}
		}
		y -= tileHeight
	}
	return y - 16
}

// tile adds a tile with its lower left corner there.
func (f *Figure) tile(at vg.Point, fill color.RGBA) {
	f.tiles = append(f.tiles, tile{vg.Rectangle{Min: at, Max: vg.Point{X: at.X + tileWidth - 3, Y: at.Y + tileHeight - 3}}, fill})
}

// matrixFill shades a cell; the shades fall in luminance from complete to
// nothing measured, and the words say the same.
func matrixFill(c *result.MatrixCell) color.RGBA {
	switch {
	case c.Measured == 0:
		return color.RGBA{0xc9, 0xa2, 0x6b, 0xff}
	case len(c.Refused) > 0 || len(c.Missing) > 0:
		return windowFill()
	}
	return color.RGBA{0xff, 0xff, 0xff, 0xff}
}

// matrixKey explains the shades.
func (f *Figure) matrixKey(left, y vg.Length) {
	for k, key := range []struct {
		cell result.MatrixCell
		text string
	}{{result.MatrixCell{Measured: 1}, "complete"}, {result.MatrixCell{Measured: 1, Missing: []string{""}}, "in part"}, {result.MatrixCell{}, "nothing measured"}} {
		x := left + vg.Length(k)*110
		area := vg.Rectangle{Min: vg.Point{X: x, Y: y - 9}, Max: vg.Point{X: x + 14, Y: y - 1}}
		f.tiles = append(f.tiles, tile{area, matrixFill(&key.cell)})
		f.texts = append(f.texts, line{at: vg.Point{X: x + 19, Y: y}, size: 7, text: key.text})
	}
}

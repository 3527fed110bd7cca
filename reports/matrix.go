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

// MatrixBlock is the part of a matrix under like other conditions, in words: bus
// voltages down, load currents across.
type MatrixBlock struct {
	Where       string
	Volts, Amps []string
	Cells       [][]MatrixWords
}

// MatrixWords is one cell: shots measured, and what came of the rest. One that was
// neither planned nor found is empty.
type MatrixWords struct {
	Text  string
	State string // "complete", "part", "nothing", "" for an empty one
}

// MatrixBlocks lays the cells out.
func MatrixBlocks(m result.Matrix) []MatrixBlock {
	var out []MatrixBlock
	for start := 0; start < len(m.Cells); {
		where := matrixWhere(m.Cells[start])
		end := start
		for end < len(m.Cells) && matrixWhere(m.Cells[end]) == where {
			end++
		}
		out = append(out, newMatrixBlock(where, m.Cells[start:end], m.Planned))
		start = end
	}
	return out
}

func matrixWhere(c result.MatrixCell) string {
	return strings.Join(each(c.Where, func(c result.Condition) string {
		if known(c.Value) {
			c.Text = "" // the value decides, not how it was written
		}
		return ConditionText(c)
	}), "; ")
}

func newMatrixBlock(where string, cells []result.MatrixCell, planned bool) MatrixBlock {
	var volts, amps []float64
	for _, c := range cells {
		volts, amps = append(volts, c.PlanV), append(amps, c.PlanI)
	}
	slices.Sort(volts)
	slices.Sort(amps)
	volts, amps = slices.Compact(volts), slices.Compact(amps)
	b := MatrixBlock{Where: where,
		Volts: each(volts, func(x float64) string { return trimmed(x, 3) + " V" }),
		Amps:  each(amps, func(x float64) string { return trimmed(x, 3) + " A" })}
	for range volts {
		b.Cells = append(b.Cells, make([]MatrixWords, len(amps)))
	}
	for _, c := range cells {
		b.Cells[slices.Index(volts, c.PlanV)][slices.Index(amps, c.PlanI)] = matrixWords(c, planned)
	}
	return b
}

func matrixWords(c result.MatrixCell, planned bool) MatrixWords {
	w := MatrixWords{Text: fmt.Sprint(c.Measured), State: "complete"}
	switch {
	case planned && c.Planned == 0:
		w.Text += " extra"
	case planned:
		w.Text += fmt.Sprintf("/%d", c.Planned)
	}
	if n := len(c.Refused); n > 0 {
		w.Text += fmt.Sprintf(" r%d", n)
		w.State = "part"
	}
	if n := len(c.Missing); n > 0 {
		w.Text += fmt.Sprintf(" m%d", n)
		w.State = "part"
	}
	if c.Measured == 0 {
		w.State = "nothing"
	}
	return w
}

// MatrixLegend says how to read the cells.
func MatrixLegend(planned bool) string {
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
	if _, err := fmt.Fprintf(w, "\n%s\n%s\n", opt.paint(bold, "Matrix of the campaign"), MatrixLegend(m.Planned)); err != nil {
		return err
	}
	for _, b := range MatrixBlocks(m) {
		rows := [][]string{append([]string{"v_bus \\ i_load"}, b.Amps...)}
		for k, v := range b.Volts {
			rows = append(rows, append([]string{v}, each(b.Cells[k], func(c MatrixWords) string { return c.Text })...))
		}
		if b.Where != "" {
			if _, err := fmt.Fprintf(w, "%s\n", unitLabel(b.Where, opt.ASCII)); err != nil {
				return err
			}
		}
		if err := (Table{Rows: rows, Keys: 1, Words: AllWords}).Write(w, opt); err != nil {
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
	blocks := MatrixBlocks(m)
	f.width = matrixLeast
	need := margin + 46
	for _, b := range blocks {
		f.width = max(f.width, 2*margin+tileHead+vg.Length(len(b.Amps))*tileWidth)
		need += vg.Length(len(b.Volts))*tileHeight + 40
	}
	f.height = need + margin + 24
	y := f.put(margin, f.height-margin, []heading{{12, 17, plain, "Matrix of the campaign"}, {8, 14, plain, MatrixLegend(m.Planned)}})
	for _, b := range blocks {
		y = f.matrixBlock(b, margin, y)
	}
	f.matrixKey(margin, y)
	return f, nil
}

// matrixBlock draws one block and returns where the next may start.
func (f *Figure) matrixBlock(b MatrixBlock, left, y vg.Length) vg.Length {
	write := func(x, y, size vg.Length, text string) {
		f.texts = append(f.texts, line{at: vg.Point{X: x, Y: y}, size: size, text: text})
	}
	if b.Where != "" {
		write(left, y, 8, minus(b.Where))
	}
	y -= 12
	write(left, y, 7, "bus voltage")
	for k, x := range b.Amps {
		write(left+tileHead+vg.Length(k)*tileWidth+4, y, 7, x)
	}
	y -= 11
	for k, v := range b.Volts {
		write(left, y-7, 7, v)
		for n, c := range b.Cells[k] {
			at := vg.Point{X: left + tileHead + vg.Length(n)*tileWidth, Y: y - tileHeight + 2}
			if c.State != "" {
				f.tile(at, matrixFill(c.State))
				write(at.X+4, y-6, 8, c.Text)
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
func matrixFill(state string) color.RGBA {
	switch state {
	case "nothing":
		return color.RGBA{0xc9, 0xa2, 0x6b, 0xff}
	case "part":
		return windowFill()
	}
	return color.RGBA{0xff, 0xff, 0xff, 0xff}
}

// matrixKey explains the shades.
func (f *Figure) matrixKey(left, y vg.Length) {
	for k, key := range [][2]string{{"complete", "complete"}, {"part", "in part"}, {"nothing", "nothing measured"}} {
		x := left + vg.Length(k)*110
		area := vg.Rectangle{Min: vg.Point{X: x, Y: y - 9}, Max: vg.Point{X: x + 14, Y: y - 1}}
		f.tiles = append(f.tiles, tile{area, matrixFill(key[0])})
		f.texts = append(f.texts, line{at: vg.Point{X: x + 19, Y: y}, size: 7, text: key[1]})
	}
}

package format

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// Rows of cells whose width, sign, form and ends change read as strconv reads
// them, whatever the table is written with.
func TestScanRows(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := rapid.SampledFrom(dialects('\n')[:8]).Draw(t, "dialect")
		if d.sep == d.point {
			d.point = '.'
		}
		columns := rapid.IntRange(1, 5).Draw(t, "columns")
		forms := rapid.SliceOfN(rapid.SampledFrom([]string{"%.3f", "%+.5E", "%.12e", "%.6g", "%g", "%8.2f", "%.0f", "%.17g", "%.4e"}), columns, columns).Draw(t, "forms")
		ends := rapid.SliceOfN(rapid.SampledFrom([]string{"\n", "\r\n", string(d.sep) + "\n", string(d.sep) + " \r\n", "\n\n", "\n# 1\n"}), 1, 3).Draw(t, "ends")
		scale := rapid.SampledFrom([]float64{1, 1e-3, 20, 1e4}).Draw(t, "scale")
		rows := rapid.IntRange(1, 60).Draw(t, "rows")
		want := make([][]float64, columns)
		var text strings.Builder
		for r := range rows {
			for k, form := range forms {
				cell := fmt.Sprintf(form, scale*rapid.Float64Range(-1, 1).Draw(t, "value"))
				v, err := strconv.ParseFloat(strings.TrimSpace(cell), 64)
				if err != nil {
					t.Fatal(err)
				}
				want[k] = append(want[k], v)
				if k > 0 {
					text.WriteByte(d.sep)
				}
				text.WriteString(strings.Replace(cell, ".", string(d.point), 1))
			}
			text.WriteString(ends[r%len(ends)])
		}
		tb := table{dialect: d, columns: make([]column, columns)}
		y := make([][]float64, columns)
		for k := range y {
			y[k] = make([]float64, rows)
		}
		var c chunk
		tb.readChunk(&c, []byte(text.String()), 0, y)
		if c.err != nil || c.n != rows {
			t.Fatalf("%d rows of %d read, %v:\n%s", c.n, rows, c.err, text.String())
		}
		for k := range y {
			for r, v := range y[k] {
				if math.Float64bits(v) != math.Float64bits(want[k][r]) {
					t.Fatalf("row %d, column %d: read %v, want %v:\n%s", r+1, k+1, v, want[k][r], text.String())
				}
			}
		}
	})
}

// What ends a row too early, too late or with something else is left to readRow,
// which says what is wrong; the rows before it stand.
func TestScanRowsBroken(t *testing.T) {
	good := strings.Repeat("0.001,-2.5e-03\n", 20)
	for _, bad := range []string{"0.001\n", "0.001,\n", "0.001,1e\n", "0.001,1e-0x\n", "0.001;2\n", "0.001,2,3\n", "0..01,2\n", "0.0.1,2\n", "0.001,2.5e-03x\n", ".,1\n", "-,1\n", "--1,2\n", "0.001,1e-400000\rx\n"} {
		tb := table{dialect: dialect{eol: '\n', sep: ',', point: '.'}, columns: make([]column, 2)}
		y := [][]float64{make([]float64, 50), make([]float64, 50)}
		s := tb.newScanner(&chunk{stamps: tb.noStamps()}, y)
		if n := s.read([]byte(good + bad + good)); n != len(good) || s.row != 20 {
			t.Errorf("%q: the scanner took %d bytes, %d rows; want %d, 20", bad, n, s.row, len(good))
		}
	}
}

package reports

import (
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"slewbook/dpt/result"
)

// matrixOf is an invented campaign: one point complete, one in part, one missing,
// one that nobody had planned.
func matrixOf() result.Matrix {
	cell := func(v, i float64, planned, measured int) result.MatrixCell {
		c := result.MatrixCell{Where: []result.Condition{{Key: "tj", Value: 298.15, Unit: "K", Text: "25 °C"}, {Key: "device", Value: math.NaN(), Text: "<part>"}}, PlanV: v, PlanI: i, Planned: planned, Measured: measured}
		for range measured {
			c.V.Add(v * 1.01)
			c.I.Add(i)
		}
		return c
	}
	part, none := cell(800, 60, 3, 1), cell(400, 120, 2, 0)
	part.Refused, part.Missing = []string{"b"}, []string{"c"}
	none.Missing = []string{"d", "e"}
	other := cell(800, 60, 0, 1)
	other.Where = []result.Condition{{Key: "tj", Value: 398.15, Unit: "K", Text: "125 °C"}}
	return result.Matrix{Planned: true, Outside: 1, Cells: []result.MatrixCell{none, cell(400, 60, 2, 2), part, other}}
}

func TestMatrixTables(t *testing.T) {
	golden(t, "matrix.txt", func(w io.Writer) error { return WriteMatrixText(w, matrixOf(), TextOptions{}) })
	golden(t, "matrix-ascii.txt", func(w io.Writer) error { return WriteMatrixText(w, matrixOf(), TextOptions{ASCII: true}) })
	golden(t, "matrix.csv", func(w io.Writer) error { return WriteRowsCSV(w, MatrixRows(matrixOf())) })
	var none strings.Builder
	if err := WriteMatrixText(&none, result.Matrix{Outside: 3}, TextOptions{}); err != nil || none.Len() > 0 {
		t.Errorf("without a plan there is a matrix: %q, %v", none.String(), err)
	}
}

// The tiles and their words lie on the page, and a run without a plan takes the
// matrix of an earlier run away.
func TestMatrixFigure(t *testing.T) {
	f, err := DrawMatrix(matrixOf(), Styles()[0])
	if err != nil {
		t.Fatal(err)
	}
	for _, l := range f.texts {
		if l.at.X < 0 || l.at.X > f.width || l.at.Y < 0 || l.at.Y > f.height {
			t.Errorf("%q lies off the page", l.text)
		}
	}
	if n := len(f.tiles); n != 4+3 {
		t.Errorf("%d tiles; want 4 and 3 of the key", n)
	}
	dir := filepath.Join(t.TempDir(), "out")
	for _, m := range []result.Matrix{matrixOf(), {}} {
		folder, err := NewFolder(dir, DefaultFolder())
		if err != nil {
			t.Fatal(err)
		}
		if err := folder.AddMatrix(m); err != nil {
			t.Fatal(err)
		}
		if err := folder.Close(); err != nil {
			t.Fatal(err)
		}
		for _, name := range []string{"matrix.csv", "matrix.png", "matrix.svg"} {
			if _, err := os.Stat(filepath.Join(dir, name)); (err == nil) != (len(m.Cells) > 0) {
				t.Errorf("%s: %v with %d cells", name, err, len(m.Cells))
			}
		}
	}
}

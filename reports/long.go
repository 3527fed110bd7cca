package reports

import (
	"io"
	"math"
	"strings"

	"github.com/gocarina/gocsv"

	"slewbook/dpt/result"
)

// longTable is the table with a row a shot and quantity, and one row without a
// quantity for a shot that failed. CSV and Parquet write it alike. Its columns
// depend on the conditions of the shots that it has seen.
type longTable struct{ conditionColumns }

// longColumn is one column of it.
type longColumn struct {
	name   string
	number bool
}

// longCell is a number, NaN where there is none, or words.
type longCell struct {
	number float64
	words  string
}

func (t *longTable) columns() []longColumn {
	out := []longColumn{{name: "capture"}, {name: "key"}, {name: "symbol"}, {"value", true}, {name: "unit"}, {"u", true},
		{"from [s]", true}, {"to [s]", true}, {name: "definition"}, {name: "warnings"}, {name: "error"}}
	for _, h := range t.headers {
		out = append(out, longColumn{h, !t.words[h]})
	}
	return append(out, longColumn{name: "sha256"}, longColumn{name: "settings"}, longColumn{name: "version"})
}

// rows returns the rows of a shot, a cell for each column.
func (t *longTable) rows(s *result.Shot) [][]longCell {
	before := []longCell{{words: csvText(s.Capture)}}
	after := []longCell{{words: csvError(s.Err)}}
	none := longCell{number: math.NaN()}
	conditions := t.values(s)
	for _, h := range t.headers {
		cell := none
		if c, ok := conditions[h]; ok {
			cell = longCell{number: c.Value, words: conditionValue(c)}
		}
		after = append(after, cell)
	}
	after = append(after, longCell{words: strings.Join(s.SHA256, " ")}, longCell{words: s.Settings}, longCell{words: s.Version})
	row := func(cells ...longCell) []longCell { return append(append(before[:1:1], cells...), after...) }
	if s.Err != nil || len(s.Quantities) == 0 {
		return [][]longCell{row(longCell{}, longCell{}, none, longCell{}, none, none, none, longCell{}, longCell{words: codes(s.Warnings)})}
	}
	return each(s.Quantities, func(m result.Measurement) []longCell {
		return row(longCell{words: m.Key}, longCell{words: result.Symbol(m.Key, s.IGBT())}, longCell{number: m.Value}, longCell{words: m.Unit}, longCell{number: m.U},
			longCell{number: m.Over.From}, longCell{number: m.Over.To}, longCell{words: m.Definition}, longCell{words: codes(m.Warnings)})
	})
}

// longCSV writes the table as CSV.
type longCSV struct {
	out     gocsv.CSVWriter
	table   *longTable
	columns []longColumn
}

// newLongCSV starts with the header; the table must have seen all shots.
func newLongCSV(w io.Writer, table *longTable) (*longCSV, error) {
	c := &longCSV{newCSVWriter(w), table, table.columns()}
	return c, c.out.Write(each(c.columns, func(c longColumn) string { return c.name }))
}

func (c *longCSV) write(s *result.Shot) error {
	for _, row := range c.table.rows(s) {
		cells := make([]string, len(row))
		for k, cell := range row {
			if cells[k] = cell.words; c.columns[k].number {
				cells[k] = csvFloat(cell.number)
			}
		}
		if err := c.out.Write(cells); err != nil {
			return err
		}
	}
	return nil
}

func (c *longCSV) close() error {
	c.out.Flush()
	return c.out.Error()
}

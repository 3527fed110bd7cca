package reports

import (
	"io"
	"math"
	"slices"

	"github.com/parquet-go/parquet-go"

	"slewbook/dpt/result"
)

// parquetGroup is as many rows as a row group holds: memory does not grow with
// the number of shots.
const parquetGroup = 1 << 16

// WriteQuantitiesParquet writes the long table as Parquet: the rows and columns
// of WriteQuantitiesCSV, numbers as doubles, null where there is none.
func WriteQuantitiesParquet(w io.Writer, shots []*result.Shot) error {
	var table longTable
	for _, s := range shots {
		table.see(s)
	}
	out := newLongParquet(w, &table)
	for _, s := range shots {
		if err := out.write(s); err != nil {
			return err
		}
	}
	return out.close()
}

// longParquet writes the long table as Parquet.
type longParquet struct {
	out     *parquet.GenericWriter[any]
	table   *longTable
	columns []longColumn
}

// newLongParquet starts; the table must have seen all shots.
func newLongParquet(w io.Writer, table *longTable) *longParquet {
	columns := table.columns()
	root := orderedGroup{Group: parquet.Group{}}
	for _, c := range columns {
		node := parquet.Encoded(parquet.String(), &parquet.RLEDictionary)
		if c.number {
			node = parquet.Leaf(parquet.DoubleType)
		}
		root.Group[c.name] = parquet.Compressed(parquet.Optional(node), &parquet.Zstd)
		root.order = append(root.order, c.name)
	}
	return &longParquet{parquet.NewGenericWriter[any](w, parquet.NewSchema("quantities", root), parquet.MaxRowsPerRowGroup(parquetGroup)), table, columns}
}

func (p *longParquet) write(s *result.Shot) error {
	rows := each(p.table.rows(s), func(cells []longCell) parquet.Row {
		row := make(parquet.Row, len(cells))
		for k, cell := range cells {
			row[k] = parquetValue(cell, p.columns[k].number).Level(0, 1, k)
			if row[k].IsNull() {
				row[k] = row[k].Level(0, 0, k)
			}
		}
		return row
	})
	_, err := p.out.WriteRows(rows)
	return err
}

func (p *longParquet) close() error { return p.out.Close() }

// parquetValue returns a cell, null where it holds nothing.
func parquetValue(c longCell, number bool) parquet.Value {
	switch {
	case number && (math.IsNaN(c.number) || math.IsInf(c.number, 0)), !number && c.words == "":
		return parquet.NullValue()
	case number:
		return parquet.DoubleValue(c.number)
	}
	return parquet.ByteArrayValue([]byte(c.words))
}

// orderedGroup is a group of columns in the order of the table: one of the
// library stands in that of the alphabet.
type orderedGroup struct {
	parquet.Group
	order []string
}

// Fields implements parquet.Node.
func (g orderedGroup) Fields() []parquet.Field {
	fields := slices.Clone(g.Group.Fields())
	place := make(map[string]int, len(g.order))
	for k, name := range g.order {
		place[name] = k
	}
	slices.SortFunc(fields, func(a, b parquet.Field) int { return place[a.Name()] - place[b.Name()] })
	return fields
}

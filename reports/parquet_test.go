package reports

import (
	"bytes"
	"encoding/csv"
	"slices"
	"strconv"
	"testing"

	"github.com/parquet-go/parquet-go"
)

// The Parquet table holds the rows, columns and numbers of quantities.csv, an
// empty cell as null; the same shots give the same bytes.
func TestParquetHoldsTheCSV(t *testing.T) {
	shots := tableShots()
	var text, binary, again bytes.Buffer
	if err := WriteQuantitiesCSV(&text, shots); err != nil {
		t.Fatal(err)
	}
	for _, b := range []*bytes.Buffer{&binary, &again} {
		if err := WriteQuantitiesParquet(b, shots); err != nil {
			t.Fatal(err)
		}
	}
	if !bytes.Equal(binary.Bytes(), again.Bytes()) {
		t.Error("written twice, the bytes differ")
	}
	want, err := csv.NewReader(&text).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	f, err := parquet.OpenFile(bytes.NewReader(binary.Bytes()), int64(binary.Len()))
	if err != nil {
		t.Fatal(err)
	}
	var got [][]string
	header := []string{}
	for _, path := range f.Schema().Columns() {
		header = append(header, path[0])
	}
	got = append(got, header)
	numbers := 0
	for _, group := range f.RowGroups() {
		rows := group.Rows()
		defer rows.Close()
		buf := make([]parquet.Row, group.NumRows())
		n, _ := rows.ReadRows(buf) // io.EOF comes with the last rows
		for _, row := range buf[:n] {
			var cells []string
			for _, v := range row {
				switch {
				case v.IsNull():
					cells = append(cells, "")
				case v.Kind() == parquet.Double:
					numbers++
					cells = append(cells, strconv.FormatFloat(v.Double(), 'g', -1, 64))
				default:
					cells = append(cells, string(v.ByteArray()))
				}
			}
			got = append(got, cells)
		}
	}
	if !slices.EqualFunc(got, want, func(a, b []string) bool { return slices.Equal(a, b) }) {
		t.Errorf("Parquet holds\n%q\nand the CSV\n%q", got, want)
	}
	if numbers < 10 {
		t.Errorf("only %d numbers", numbers)
	}
}

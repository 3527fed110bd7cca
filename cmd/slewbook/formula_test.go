package main

import (
	"bytes"
	"encoding/csv"
	"math"
	"os"
	"path/filepath"
	"testing"

	"slewbook/dpt/campaign"
	"slewbook/dpt/result"
	"slewbook/reports"
)

// Words that a spreadsheet would run as a formula stand behind an apostrophe in a table,
// numbers do not, and a shot list reads back what it was drafted from.
func TestFormulaInNames(t *testing.T) {
	names := []string{"=1+1", "+25C/i-100A", "-40C/i-100A", "@a", "'=1+1", "\tb", "'plain", "a=1", "-"}
	want := []string{"'=1+1", "'+25C/i-100A", "'-40C/i-100A", "'@a", "''=1+1", "'\tb", "'plain", "a=1", "-"}
	var shots []*result.Shot
	rows := [][]string{campaign.Header()}
	for _, name := range names {
		s := &result.Shot{Capture: name, Conditions: []result.Condition{{Key: "remark", Text: "=cmd()", Value: math.NaN()}},
			Quantities: []result.Measurement{{Key: "e_on", Unit: "J", Value: -1e-6, U: math.NaN()}}}
		shots = append(shots, s)
		rows = append(rows, campaign.Row(s))
	}
	var wide, long, list bytes.Buffer
	for _, err := range []error{reports.WriteShotsCSV(&wide, shots), reports.WriteQuantitiesCSV(&long, shots), reports.WriteRowsCSV(&list, rows)} {
		if err != nil {
			t.Fatal(err)
		}
	}
	for _, table := range []*bytes.Buffer{&wide, &long} {
		cells, err := csv.NewReader(bytes.NewReader(table.Bytes())).ReadAll()
		if err != nil {
			t.Fatal(err)
		}
		for k, row := range cells[1:] {
			if row[0] != want[k] {
				t.Errorf("%q stands as %q, expected %q", names[k], row[0], want[k])
			}
			for _, cell := range row[1:] {
				if cell == "'-1e-06" || cell == "=cmd()" {
					t.Errorf("%q: cell %q", names[k], cell)
				}
			}
		}
	}
	path := filepath.Join(t.TempDir(), "list.csv")
	if err := os.WriteFile(path, list.Bytes(), 0o666); err != nil {
		t.Fatal(err)
	}
	read, err := campaign.ReadList(path)
	if err != nil {
		t.Fatal(err)
	}
	plan := campaign.Plan{List: read}
	for _, name := range names[:5] { // of the others the list takes blanks off
		conditions, _, err := plan.Conditions(nil, name)
		if c := result.FindCondition(conditions, "remark"); err != nil || c == nil || c.Text != "=cmd()" {
			t.Errorf("%q: %v, %v; expected its row", name, conditions, err)
		}
	}
}

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

// marginsOf is an invented table: a margin, one that is used up, one without a shot.
func marginsOf() []result.Margin {
	nan := math.NaN()
	return []result.Margin{
		{Rating: "rated drain-source voltage", Setup: "device.v_max", Key: "v_max", Unit: "V", Limit: 1200, Value: 1056.4, U: 11.2, Capture: "800V/shot-003", Margin: 143.6, Read: 5, Shots: 6},
		{Rating: "static gate-source voltage", Setup: "device.vgs_min", Key: "vgs_min", Unit: "V", Limit: -8, Lower: true, Value: -9.3, U: 0.12, Capture: "800V/shot-004", Margin: -1.3, Read: 6, Shots: 6},
		{Rating: "slope of the voltage at turn-on", Setup: "device.dvdt_max", Key: "dvdt_on_max", Unit: "V/s", Limit: 1e11, Value: nan, U: nan, Margin: nan, Shots: 6},
	}
}

func TestMarginTables(t *testing.T) {
	golden(t, "margins.txt", func(w io.Writer) error { return WriteMarginsText(w, marginsOf(), TextOptions{}) })
	golden(t, "margins.csv", func(w io.Writer) error { return WriteRowsCSV(w, MarginRows(marginsOf())) })
	golden(t, "margins.jsonl", func(w io.Writer) error { return writeMarginsJSON(w, marginsOf()) })
	var none strings.Builder
	if err := WriteMarginsText(&none, nil, TextOptions{}); err != nil || none.Len() > 0 {
		t.Errorf("without ratings there are margins: %q, %v", none.String(), err)
	}
}

// A run without ratings takes the margins of an earlier run away.
func TestMarginsInFolder(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "out")
	for _, margins := range [][]result.Margin{marginsOf(), nil} {
		folder, err := NewFolder(dir, DefaultFolder())
		if err != nil {
			t.Fatal(err)
		}
		if err := folder.AddMargins(margins); err != nil {
			t.Fatal(err)
		}
		if err := folder.Close(); err != nil {
			t.Fatal(err)
		}
		for _, name := range []string{"margins.csv", "margins.jsonl"} {
			if _, err := os.Stat(filepath.Join(dir, name)); (err == nil) != (margins != nil) {
				t.Errorf("%s with %d ratings: %v", name, len(margins), err)
			}
		}
	}
}

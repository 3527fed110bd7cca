package reports

import (
	"errors"
	"fmt"
	"io"
	"math"
	"path/filepath"

	"slewbook/dpt/result"
)

// marginsName is the name of the table of margins in a result folder.
const marginsName = "margins"

// MarginNote stands below every table of margins.
const MarginNote = "Figures only, of what was recorded and read: ratings, conditions and what was not tested are for competent persons to judge."

// AddMargins writes the margins of a run to its ratings, nothing where there are
// none.
func (f *Folder) AddMargins(margins []result.Margin) error {
	if len(margins) == 0 {
		return nil
	}
	return errors.Join(
		writeNew(filepath.Join(f.temp, marginsName+".csv"), func(w io.Writer) error { return WriteRowsCSV(w, MarginRows(margins)) }),
		writeNew(filepath.Join(f.temp, marginsName+".jsonl"), func(w io.Writer) error { return writeMarginsJSON(w, margins) }))
}

// removeMargins removes the margins of an earlier run.
func removeMargins(dir string) error {
	return errors.Join(removeIfThere(filepath.Join(dir, marginsName+".csv")), removeIfThere(filepath.Join(dir, marginsName+".jsonl")))
}

// WriteMarginsText writes the margins of a run to the ratings of its set-up, nothing
// where there are none.
func WriteMarginsText(w io.Writer, margins []result.Margin, opt TextOptions) error {
	if len(margins) == 0 {
		return nil
	}
	t := textTable{opt: opt}
	t.printf("\nMargins to the ratings of the set-up; %s with k = 2\n", plusMinus(opt.ASCII))
	t.rows(Table{Rows: MarginTexts(margins), Keys: 1, Words: AllWords})
	t.para("", MarginNote)
	return t.write(w)
}

// MarginTexts are the margins as people read them, below a row of headers.
func MarginTexts(margins []result.Margin) [][]string {
	rows := [][]string{{"rating", "limit", "quantity", "worst", "±", "margin", "of it", "shot", "read in"}}
	for _, m := range margins {
		relative, capture := "-", "-"
		if m.Read > 0 {
			relative, capture = fmt.Sprintf("%.1f %%", 100*m.Relative()), m.Capture
		}
		u := m.U
		if math.IsNaN(u) {
			u = math.Abs(m.Value) / 100 // for the digits only
		}
		rows = append(rows, []string{m.Rating, Num(m.Limit, 0, m.Unit), m.Key, Num(m.Value, u, m.Unit), Num(2*m.U, 2*m.U, m.Unit), Num(m.Margin, u, m.Unit), relative, capture,
			fmt.Sprintf("%d of %d", m.Read, m.Shots)})
	}
	return rows
}

// MarginRows lays the margins out for a CSV file: SI base units, full precision.
func MarginRows(margins []result.Margin) [][]string {
	rows := [][]string{{"rating", "setup key", "quantity", "unit", "limit", "side", "worst", "u", "margin", "margin of limit [1]", "capture", "read in", "shots"}}
	for _, m := range margins {
		side := "upper"
		if m.Lower {
			side = "lower"
		}
		rows = append(rows, []string{csvText(m.Rating), m.Setup, m.Key, m.Unit, csvFloat(m.Limit), side, csvFloat(m.Value), csvFloat(m.U), csvFloat(m.Margin), csvFloat(m.Relative()), csvText(m.Capture),
			fmt.Sprint(m.Read), fmt.Sprint(m.Shots)})
	}
	return rows
}

// writeMarginsJSON writes an object a line for each rating.
func writeMarginsJSON(w io.Writer, margins []result.Margin) error {
	for _, m := range margins {
		if err := WriteObject(w, "rating", m.Rating, "setup", m.Setup, "quantity", m.Key, "unit", m.Unit, "limit", m.Limit, "lower", m.Lower,
			"worst", m.Value, "u", m.U, "margin", m.Margin, "relative", m.Relative(), "capture", m.Capture, "read", m.Read, "shots", m.Shots); err != nil {
			return err
		}
	}
	return nil
}

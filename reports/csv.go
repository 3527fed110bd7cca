package reports

import (
	"encoding/csv"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"

	"github.com/gocarina/gocsv"

	"slewbook/dpt/result"
	"slewbook/waveform"
)

// WriteShotsCSV writes the wide table: a row a shot, a column a quantity with
// its unit in the header, beside it its standard uncertainty "u(key)" and, for
// an energy, its window. SI base units, full precision, not measurable = empty.
func WriteShotsCSV(w io.Writer, shots []*result.Shot) error {
	var table wideTable
	for _, s := range shots {
		table.see(s)
	}
	out := newCSVWriter(w)
	if err := out.Write(table.header()); err != nil {
		return err
	}
	for _, s := range shots {
		if err := out.Write(table.row(s)); err != nil {
			return err
		}
	}
	out.Flush()
	return out.Error()
}

// WriteQuantitiesCSV writes the long table: a row a shot and quantity, and one
// row without a quantity for a shot that failed.
func WriteQuantitiesCSV(w io.Writer, shots []*result.Shot) error {
	var table longTable
	for _, s := range shots {
		table.see(s)
	}
	out, err := newLongCSV(w, &table)
	if err != nil {
		return err
	}
	for _, s := range shots {
		if err := out.write(s); err != nil {
			return err
		}
	}
	return out.close()
}

func newCSVWriter(w io.Writer) gocsv.CSVWriter {
	return spreadsheetCSV{gocsv.NewSafeCSVWriter(csv.NewWriter(w))}
}

// spreadsheetCSV puts an apostrophe in front of words that a spreadsheet would run as a
// formula, such as those of a file that is named "=1+1", and of words that look as if
// that had been done, so that taking one off gives what there was.
type spreadsheetCSV struct{ gocsv.CSVWriter }

// Write implements gocsv.CSVWriter.
func (w spreadsheetCSV) Write(row []string) error {
	out := row
	for k, cell := range row {
		if !formula(cell) {
			continue
		}
		if &out[0] == &row[0] {
			out = slices.Clone(row)
		}
		out[k] = "'" + cell
	}
	return w.CSVWriter.Write(out)
}

// formula tells whether a cell begins as a formula does, apostrophes left out, and is no
// number and no mere sign.
func formula(cell string) bool {
	text := strings.TrimLeft(cell, "'")
	if len(text) < 2 || !strings.ContainsRune("=+-@\t\r", rune(text[0])) {
		return false
	}
	_, err := strconv.ParseFloat(cell, 64)
	return err != nil
}

// csvFloat writes a number with full precision, nothing where there is none.
func csvFloat(x float64) string {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return ""
	}
	return strconv.FormatFloat(x, 'g', -1, 64)
}

// codes lists the warnings' codes, each once, separated by spaces.
func codes(warnings []waveform.Warning) string {
	var out []string
	seen := map[waveform.Code]bool{}
	for _, w := range warnings {
		if !seen[w.Code] {
			seen[w.Code] = true
			out = append(out, string(w.Code))
		}
	}
	return strings.Join(out, " ")
}

func csvError(err error) string {
	if err == nil {
		return ""
	}
	return csvText(err.Error())
}

// csvText makes s valid UTF-8, since a file name may be any bytes. Quoting is
// the CSV writer's job.
func csvText(s string) string { return strings.ToValidUTF8(s, "\uFFFD") }

package reports

import (
	"encoding/csv"
	"io"
	"math"
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
	out := newCSVWriter(w)
	if err := writeLongHeader(out); err != nil {
		return err
	}
	for _, s := range shots {
		if err := writeLongRows(out, s); err != nil {
			return err
		}
	}
	return nil
}

func newCSVWriter(w io.Writer) *gocsv.SafeCSVWriter {
	return gocsv.NewSafeCSVWriter(csv.NewWriter(w))
}

func writeLongHeader(out gocsv.CSVWriter) error {
	return gocsv.MarshalCSV([]longRow{}, out)
}

func writeLongRows(out gocsv.CSVWriter, s *result.Shot) error {
	return gocsv.MarshalCSVWithoutHeaders(longRows(s), out)
}

// csvNumber is a cell with full precision, empty where there is no number.
type csvNumber float64

// MarshalCSV implements gocsv.TypeMarshaller.
func (x csvNumber) MarshalCSV() (string, error) { return csvFloat(float64(x)), nil }

func csvFloat(x float64) string {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return ""
	}
	return strconv.FormatFloat(x, 'g', -1, 64)
}

// longRow is a row of quantities.csv.
type longRow struct {
	Capture    string    `csv:"capture"`
	Key        string    `csv:"key"`
	Symbol     string    `csv:"symbol"`
	Value      csvNumber `csv:"value"`
	Unit       string    `csv:"unit"`
	U          csvNumber `csv:"u"`
	From       csvNumber `csv:"from [s]"`
	To         csvNumber `csv:"to [s]"`
	Definition string    `csv:"definition"`
	Warnings   string    `csv:"warnings"`
	Error      string    `csv:"error"`
	Conditions string    `csv:"conditions"`
	SHA256     string    `csv:"sha256"`
	Settings   string    `csv:"settings"`
	Version    string    `csv:"version"`
}

func longRows(s *result.Shot) []longRow {
	base := longRow{
		Capture:    csvText(s.Capture),
		Value:      csvNumber(math.NaN()),
		U:          csvNumber(math.NaN()),
		From:       csvNumber(math.NaN()),
		To:         csvNumber(math.NaN()),
		Warnings:   codes(s.Warnings),
		Error:      csvError(s.Err),
		Conditions: csvText(conditionList(s.Conditions)),
		SHA256:     strings.Join(s.SHA256, " "),
		Settings:   s.Settings,
		Version:    s.Version,
	}
	if s.Err != nil || len(s.Quantities) == 0 {
		return []longRow{base}
	}
	return each(s.Quantities, func(m result.Measurement) longRow {
		row := base
		row.Key, row.Symbol, row.Unit = m.Key, symbol(m.Key, isIGBT(s)), m.Unit
		row.Value, row.U = csvNumber(m.Value), csvNumber(m.U)
		row.From, row.To = csvNumber(m.Over.From), csvNumber(m.Over.To)
		row.Definition, row.Warnings = m.Definition, codes(m.Warnings)
		return row
	})
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

// conditionList writes the conditions as "rg_on=5 ohm; tj=298.15 K".
func conditionList(conditions []result.Condition) string {
	items := each(conditions, func(c result.Condition) string {
		return strings.TrimSpace(c.Key + "=" + conditionValue(c) + " " + c.Unit)
	})
	return strings.Join(items, "; ")
}

func conditionValue(c result.Condition) string {
	if math.IsNaN(c.Value) {
		return c.Text
	}
	return csvFloat(c.Value)
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

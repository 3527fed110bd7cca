package reports

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"testing"
	"unicode/utf8"

	"slewbook/dpt/result"
	"slewbook/waveform"
)

// Every line must be JSON that encoding/json reads back to the same numbers.
func TestShotJSONIsValidAndExact(t *testing.T) {
	for _, s := range tableShots() {
		var buf bytes.Buffer
		if err := WriteShotJSON(&buf, s); err != nil {
			t.Fatal(err)
		}
		if n := bytes.Count(buf.Bytes(), []byte("\n")); n != 1 {
			t.Errorf("%q: %d lines, want 1", s.Capture, n)
		}
		var got struct {
			Capture    string
			Quantities map[string]struct{ Value, U *float64 }
			Error      *string
		}
		if err := json.Unmarshal(buf.Bytes(), &got); err != nil {
			t.Fatalf("%v in %s", err, buf.Bytes())
		}
		if got.Capture != s.Capture || (got.Error != nil) != (s.Err != nil) {
			t.Errorf("got %+v of %q", got, s.Capture)
		}
		for _, m := range s.Quantities {
			v := got.Quantities[m.Key].Value
			if finite := m.Value-m.Value == 0; finite != (v != nil) || finite && *v != m.Value {
				t.Errorf("%s: got %v, want %v", m.Key, v, m.Value)
			}
		}
	}
}

// A quantity that no honest number exists for is null, "" and "-", and no
// format ever shows a NaN or an infinity.
func TestNoFormatShowsNonFinite(t *testing.T) {
	shots := tableShots()
	for name, write := range map[string]func(*bytes.Buffer) error{
		"json": func(b *bytes.Buffer) error { return WriteShotJSON(b, shots[1]) },
		"wide": func(b *bytes.Buffer) error { return WriteShotsCSV(b, shots) },
		"long": func(b *bytes.Buffer) error { return WriteQuantitiesCSV(b, shots) },
		"text": func(b *bytes.Buffer) error { return WriteText(b, shots, TextOptions{}) },
		"look": func(b *bytes.Buffer) error { return WriteLookText(b, tableLooks(), TextOptions{}) },
	} {
		var buf bytes.Buffer
		if err := write(&buf); err != nil {
			t.Fatal(err)
		}
		for _, word := range []string{"NaN", "Inf", "nan", "+inf"} {
			if strings.Contains(buf.String(), word) {
				t.Errorf("%s shows %s:\n%s", name, word, buf.String())
			}
		}
	}
}

func TestCSVHoldsTheSameNumbers(t *testing.T) {
	shots := tableShots()
	shots[2].Capture += "\xff" // a name that is not UTF-8
	var buf bytes.Buffer
	if err := WriteShotsCSV(&buf, shots); err != nil {
		t.Fatal(err)
	}
	if !utf8.Valid(buf.Bytes()) {
		t.Error("shots.csv is not UTF-8")
	}
	rows, err := csv.NewReader(&buf).ReadAll() // also checks that all rows have the same length
	if err != nil {
		t.Fatal(err)
	}
	if len(rows) != 1+len(shots) {
		t.Fatalf("%d rows, want a header and %d", len(rows), len(shots))
	}
	column := map[string]int{}
	for i, h := range rows[0] {
		if _, twice := column[h]; twice {
			t.Errorf("column %q twice", h)
		}
		column[h] = i
	}
	for i, s := range shots {
		for _, c := range result.Columns {
			at, ok := column[c.Key+" ["+c.Unit+"]"]
			if !ok && c.Given && s.Quantity(c.Key) == nil {
				continue // no shot has what it needs
			}
			if !ok {
				t.Fatalf("no column for %s", c.Key)
			}
			want := math.NaN()
			if m := s.Quantity(c.Key); m != nil {
				want = m.Value
			}
			got, err := strconv.ParseFloat(rows[i+1][at], 64)
			if finite := want-want == 0; finite != (err == nil) || finite && got != want {
				t.Errorf("%s of %q: cell %q, want %v", c.Key, s.Capture, rows[i+1][at], want)
			}
		}
	}
	if got := rows[1][column["e_off.g90-i2 [J]"]]; got != "0.00057" {
		t.Errorf("e_off.g90-i2 is %q", got)
	}
	if got := rows[1][column["e_off window"]]; got != "v10-i2" {
		t.Errorf("window of e_off is %q", got)
	}
}

// Two significant digits of the expanded uncertainty: GUM (JCGM 100:2008)
// 7.2.6 and its example H.1 (both from memory), where l = 50.000 838 mm with
// u = 32 nm, so 2 u = 64 nm and the last digit is 1 nm.
func TestDecimals(t *testing.T) {
	for _, c := range []struct {
		x, u, size float64
		want       string
	}{
		{50.0008380123e-3, 32e-9, 1e-3, "50.000838"},
		{9.99961e-9, math.NaN(), 1e-9, "10.00"}, // rounding adds a digit in front, not behind
		{801.23, math.NaN(), 1, "801.2"},
		{12345.6, math.NaN(), 1, "12350"}, // no more than four digits
		{1200.4, 3.2, 1, "1200.4"},
		{1234.4, 320, 1, "1230"},
		{-2e-12, 5e-10, 1e-9, "0.0"}, // and not -0.0
		{0, math.NaN(), 1, "0.000"},
		{1.23456e-3, 49.7e-6, 1e-3, "1.235"}, // U = 0.0994 mJ is 0.099
		{1.23456e-3, 49.9e-6, 1e-3, "1.23"},  // U = 0.0998 mJ is 0.10
	} {
		if got := decimal(c.x/c.size, decimals(c.x, c.u, c.size)); got != c.want {
			t.Errorf("x = %v, u = %v in %v: got %s, want %s", c.x, c.u, c.size, got, c.want)
		}
	}
}

// No line is wider than asked, except where a name alone is.
func TestTextKeepsTheWidth(t *testing.T) {
	shots := tableShots()
	for _, width := range []int{60, 80, 100, 120} {
		var buf bytes.Buffer
		if err := WriteText(&buf, shots, TextOptions{Width: width, Color: true}); err != nil {
			t.Fatal(err)
		}
		for _, line := range strings.Split(buf.String(), "\n") {
			if visible(line) > width {
				t.Errorf("width %d: %d characters in %q", width, visible(line), line)
			}
		}
		for _, s := range shots {
			if !strings.Contains(buf.String(), printable(s.Capture, false)) {
				t.Errorf("width %d: no trace of %q", width, s.Capture)
			}
		}
	}
}

// A campaign in which every shot rings alike has one note; a second warning of
// the same kind in one shot keeps a note of its own.
func TestFootnotesAreGrouped(t *testing.T) {
	var shots []*result.Shot
	for k := range 20 {
		dip := waveform.Warning{Code: waveform.DipInWindow, Channel: "vds", Text: fmt.Sprintf("dip of shot %d", k)}
		s := &result.Shot{Capture: fmt.Sprintf("shot-%02d", k), Quantities: []result.Measurement{
			{Key: "e_off", Unit: "J", Value: 1e-4, U: 1e-6, Warnings: []waveform.Warning{{Code: waveform.Recrossed, Channel: "id", Text: fmt.Sprintf("again at %d ns", k)}}},
			{Key: "e_off.v5-i5", Unit: "J", Value: 1e-4, Warnings: []waveform.Warning{{Code: waveform.Recrossed, Channel: "id", Text: "not in the table"}}},
			{Key: "t_fall_v", Unit: "s", Value: 1e-8, Warnings: []waveform.Warning{dip}},
			{Key: "dvdt_on", Unit: "V/s", Value: 1e9, Warnings: []waveform.Warning{dip}},
		}}
		shots = append(shots, s)
	}
	shots[3].Warnings = []waveform.Warning{{Code: waveform.Gap, Channel: "id", Text: "first gap"}, {Code: waveform.Gap, Channel: "id", Text: "second gap"}}
	var buf bytes.Buffer
	if err := WriteText(&buf, shots, TextOptions{}); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{
		"recrossed (id): again at 0 ns (shot-00; likewise in 19 more shots, see the JSON output)",
		"dip-in-window (vds): dip of shot 0 (shot-00; likewise in 19 more shots, see the JSON output)",
		"gap (id): first gap\n", "gap (id): second gap\n", "100.0±2.0[1]",
	} {
		if !strings.Contains(buf.String(), want) {
			t.Errorf("no %q in\n%s", want, buf.String())
		}
	}
	if strings.Contains(buf.String(), "[5]") || strings.Contains(buf.String(), "not in the table") {
		t.Errorf("more than four notes:\n%s", buf.String())
	}
}

// A last column does not stand alone where the tables can be even.
func TestBlocksAreEven(t *testing.T) {
	var columns []*textColumn
	for range 8 {
		columns = append(columns, &textColumn{symbol: "12345678"})
	}
	for width, want := range map[int][]int{80: {8}, 79: {4, 4}, 70: {4, 4}, 39: {3, 3, 2}, 5: {1, 1, 1, 1, 1, 1, 1, 1}} {
		got := each(blocks(columns, (*textColumn).width, width), func(b []*textColumn) int { return len(b) })
		if !slices.Equal(got, want) {
			t.Errorf("width %d: %v, want %v", width, got, want)
		}
	}
}

// A file name must not reach the terminal with its escape sequences.
func TestTextEscapesControls(t *testing.T) {
	for in, want := range map[string]string{
		"a\x1b[31m\n\u202eb": `a\x1b[31m\n\u202eb`,
		"\xff\x01é":          `\xff\x01é`,
	} {
		if got := printable(in, false); got != want {
			t.Errorf("printable(%q) = %q, want %q", in, got, want)
		}
	}
	if got := printable("é", true); got != `\u00e9` {
		t.Errorf("ASCII: %q", got)
	}
}

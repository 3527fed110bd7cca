// Command table measures all captures of the examples and writes the switching
// energies against the load current, as lines for a spreadsheet. What could
// not be measured stays empty, and the reason stands beside it.
//
//	go run ./examples/table
package main

import (
	"encoding/csv"
	"io"
	"log"
	"math"
	"os"
	"strconv"
	"strings"

	"slewbook/dpt"
	"slewbook/dpt/result"
	"slewbook/dpt/setup"
	"slewbook/waveform/format"
)

func main() {
	if err := run(os.Stdout, "examples"); err != nil {
		log.Fatal(err)
	}
}

// run measures the folder captures in dir with bench.toml.
func run(w io.Writer, dir string) error {
	bench, err := setup.Load(dir + "/bench.toml")
	if err != nil {
		return err
	}
	opt := bench.Options()
	sources, _, err := format.Find(dir+"/captures", format.Options{})
	if err != nil {
		return err
	}
	out := csv.NewWriter(w)
	out.Write([]string{"capture", "I_off [A]", "E_off [µJ]", "I_on [A]", "E_on [µJ]", "without a number"})
	for _, source := range sources {
		captures, err := source.Read()
		if err != nil { // a file that cannot be read is a row, not the end
			out.Write([]string{source.Name, "", "", "", "", err.Error()})
			continue
		}
		for _, capture := range captures {
			shot, err := dpt.Measure(capture, opt)
			if err != nil {
				out.Write([]string{shot.Capture, "", "", "", "", err.Error()})
				continue
			}
			out.Write(row(&shot))
		}
	}
	out.Flush()
	return out.Error()
}

func row(shot *result.Shot) []string {
	cells := []string{shot.Capture}
	var reasons []string
	for _, q := range []struct {
		key  string
		size float64 // of the unit in the header [SI unit]
	}{{"i_off", 1}, {"e_off", 1e-6}, {"i_on", 1}, {"e_on", 1e-6}} {
		m := shot.Quantity(q.key)
		if math.IsNaN(m.Value) {
			cells = append(cells, "")
			for _, warning := range m.Warnings {
				reasons = append(reasons, q.key+": "+warning.Text)
			}
			continue
		}
		cells = append(cells, strconv.FormatFloat(m.Value/q.size, 'g', 3, 64))
	}
	return append(cells, strings.Join(reasons, "; "))
}

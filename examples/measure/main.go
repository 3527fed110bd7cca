// Command measure reads one capture of the examples and prints its energies,
// with the window and the stretch of time that each was read on.
//
//	go run ./examples/measure
package main

import (
	"fmt"
	"io"
	"log"
	"os"

	"slewbook/dpt"
	"slewbook/dpt/setup"
	"slewbook/waveform/format"
	"slewbook/waveform/unit"
)

func main() {
	if err := run(os.Stdout, "examples"); err != nil {
		log.Fatal(err)
	}
}

// run measures captures/i-40A.csv.gz in dir with bench.toml.
func run(w io.Writer, dir string) error {
	bench, err := setup.Load(dir + "/bench.toml")
	if err != nil {
		return err
	}
	sources, _, err := format.Find(dir+"/captures/i-40A.csv.gz", format.Options{})
	if err != nil {
		return err
	}
	captures, err := sources[0].Read()
	if err != nil {
		return err
	}
	shot, err := dpt.Measure(captures[0], bench.Options())
	if err != nil {
		return err
	}
	for _, key := range []string{"i_off", "e_off", "i_on", "e_on"} {
		m := shot.Quantity(key)
		fmt.Fprintf(w, "%-5s  %s  %s, from %s to %s\n", m.Key, unit.Format(m.Value, m.Unit, 3), m.Definition,
			unit.Format(m.Over.From, "s", 4), unit.Format(m.Over.To, "s", 4))
		for _, warning := range m.Warnings {
			fmt.Fprintf(w, "       %s\n", warning.Code)
		}
	}
	return nil
}

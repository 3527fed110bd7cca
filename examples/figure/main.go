// Command figure draws one shot of the examples as a PNG.
//
//	go run ./examples/figure shot.png
package main

import (
	"log"
	"os"

	"slewbook/dpt"
	"slewbook/dpt/setup"
	"slewbook/reports"
	"slewbook/waveform/format"
)

func main() {
	if len(os.Args) != 2 {
		log.Fatal("usage: go run ./examples/figure FILE.png")
	}
	if err := run("examples", os.Args[1]); err != nil {
		log.Fatal(err)
	}
}

// run draws captures/i-60A.csv.gz in dir.
func run(dir, to string) error {
	bench, err := setup.Load(dir + "/bench.toml")
	if err != nil {
		return err
	}
	sources, _, err := format.Find(dir+"/captures/i-60A.csv.gz", format.Options{})
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
	// The shot carries its traces, events and windows: nothing is measured
	// again for the figure.
	style := reports.Styles()[0]
	style.DPI = 100
	figures, err := reports.DrawShot(&shot, style)
	if err != nil {
		return err
	}
	out, err := os.Create(to)
	if err != nil {
		return err
	}
	defer out.Close()
	if err := figures[0].Write(out, "png"); err != nil {
		return err
	}
	return out.Close()
}

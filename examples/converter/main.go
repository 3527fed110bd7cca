// Converter makes the hand-over grids of an invented switch, as slewbook curves does
// from a campaign: energies over current, bus voltage and temperature with what their
// shots share.
//
//	go run ./examples/converter examples/converter/grids
package main

import (
	"fmt"
	"math"
	"os"
	"path/filepath"

	"slewbook/dpt/curve"
	"slewbook/dpt/result"
)

// invented energies at 600 V and 25 °C: a + b·I + c·I² [J], and the relative rise with
// temperature [1/K]. A lag of the current moves the edges against each other.
var invented = []struct {
	key, definition string
	a, b, c, rise   float64
	lag             float64
}{
	{"e_on", "i10-v2", 60e-6, 5e-6, 25e-9, 0.0012, -1},
	{"e_off", "v10-i2", 35e-6, 1.2e-6, 15e-9, 0.0008, 1},
	{"e_rr", "from zero to the fall to 2 % of the peak", 15e-6, 0.7e-6, 0, 0.005, 0},
}

func main() {
	if err := run(os.Args[1:]); err != nil {
		fmt.Fprintln(os.Stderr, "converter:", err)
		os.Exit(1)
	}
}

func run(args []string) error {
	if len(args) != 1 {
		return fmt.Errorf("expected a folder to write the grids to")
	}
	if err := os.MkdirAll(args[0], 0o777); err != nil {
		return err
	}
	for _, e := range invented {
		s := &curve.Series{Key: e.key, Symbol: e.key, Unit: "J", Definition: e.definition}
		for n, i := range []float64{5, 20, 40, 60, 80, 100} {
			for _, v := range []float64{400, 600, 800} {
				for _, tj := range []float64{298.15, 398.15, 448.15} {
					y := (e.a + e.b*i + e.c*i*i) * math.Pow(v/600, 1.2) * (1 + e.rise*(tj-298.15))
					scatter := 0.004 * y * math.Cos(7*float64(n)+v+tj)
					s.Points = append(s.Points, curve.Point{At: curve.At{I: i, V: v, Tj: tj, Rg: 5}, Name: fmt.Sprintf("%g-%g-%g", v, i, tj), Y: y + scatter, U: 0.02 * y, Budget: []result.Contribution{
						{Source: "gain of vds", Effect: 0.01 * y, Scope: result.OfSetup},
						{Source: "gain of id", Effect: 0.015 * y, Scope: result.OfSetup},
						{Source: "delay of id", Effect: e.lag * v * i * 0.1e-9, Scope: result.OfSetup},
						{Source: "noise and bits", Effect: 0.004 * y, Scope: result.OfReading}}})
				}
			}
		}
		fit, err := curve.Least(curve.NewSurface(s.Points, false), s.Points, curve.Defaults())
		if err != nil {
			return err
		}
		g := curve.NewGrid(s, fit, map[curve.Variable][]float64{curve.Current: {5, 20, 40, 60, 80, 100}, curve.Bus: {400, 600, 800}})
		g.Source = []string{"invented; made by examples/converter"}
		if err := write(filepath.Join(args[0], e.key+".json"), g); err != nil {
			return err
		}
	}
	return nil
}

func write(path string, g *curve.Grid) error {
	f, err := os.Create(path)
	if err != nil {
		return err
	}
	if err := g.WriteJSON(f); err != nil {
		f.Close()
		return err
	}
	return f.Close()
}

// Command generate writes the captures of the examples. Everything in them is
// invented: a half bridge that does not exist, under pulses that nobody fired.
package main

import (
	"compress/gzip"
	"fmt"
	"log"
	"os"
	"path/filepath"

	"slewbook/dpt/model"
	"slewbook/waveform"
)

func main() {
	if len(os.Args) != 2 {
		log.Fatal("usage: go run ./examples/generate FOLDER")
	}
	if err := generate(os.Args[1]); err != nil {
		log.Fatal(err)
	}
}

// lag is by how much the current's channel lags behind the voltages' [s].
// bench.toml takes it off again.
const lag = 3.2e-9

// generate writes four shots at 400 V: 20, 40 and 60 A, and one at 60 A that
// was recorded with too small a range for the current.
func generate(dir string) error {
	for k, s := range []struct {
		name    string
		current float64 // [A]
		top     float64 // of the current's range [A]
	}{
		{"i-20A", 20, 150}, {"i-40A", 40, 150}, {"i-60A", 60, 150}, {"i-60A-clipped", 60, 70},
	} {
		c := model.Capture(shot(s.current).Waveforms(), instrument(s.top), uint64(k+1))
		// The bench names its inputs, not what they carry.
		for n, tr := range c.Traces {
			tr.Name = fmt.Sprintf("CH%d", n+1)
		}
		if err := write(filepath.Join(dir, s.name+".csv.gz"), c); err != nil {
			return err
		}
	}
	return nil
}

// shot is a double pulse of the demo's module at 400 V on a smaller inductor.
func shot(current float64) model.Shot {
	s := model.Demo(400, current)
	s.LLoad = 20e-6
	s.Gap, s.Width = 1e-6, 0.8e-6
	s.Before, s.After = 0.5e-6, 0.4e-6
	return s
}

// instrument has 12 bits at 1.25 GS/s; the current lags and has an offset.
func instrument(top float64) model.Instrument {
	in := model.DemoInstrument()
	in.V.Range = waveform.Range{Min: -100, Max: 700}
	in.I = model.Channel{Range: waveform.Range{Min: -30, Max: top}, Bits: 12, Noise: 0.05, Offset: 0.3, Delay: lag}
	return in
}

func write(path string, c *waveform.Capture) error {
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		return err
	}
	f, err := os.Create(path)
	if err != nil {
		return err
	}
	defer f.Close()
	z, err := gzip.NewWriterLevel(f, gzip.BestCompression)
	if err != nil {
		return err
	}
	if err := model.WriteCSV(z, c); err != nil {
		return err
	}
	if err := z.Close(); err != nil {
		return err
	}
	return f.Close()
}

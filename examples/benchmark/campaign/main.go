// Command campaign writes an invented campaign to measure the speed of slewbook
// with: campaign FOLDER SHOTS [SAMPLES]. The shots are those of the demo, again and
// again, each with noise of its own. They are not committed: 1000 shots of 100,000
// samples are 5 GB.
package main

import (
	"errors"
	"fmt"
	"io"
	"log"
	"os"
	"path/filepath"
	"runtime"
	"strconv"

	"golang.org/x/sync/errgroup"

	"slewbook/dpt/model"
)

func main() {
	if err := run(os.Args[1:]); err != nil {
		log.Fatal(err)
	}
}

func run(args []string) error {
	samples := 100_000
	var shots int
	var err error
	switch len(args) {
	case 3:
		if samples, err = strconv.Atoi(args[2]); err != nil {
			return err
		}
		fallthrough
	case 2:
		if shots, err = strconv.Atoi(args[1]); err != nil {
			return err
		}
	default:
		return errors.New("usage: campaign FOLDER SHOTS [SAMPLES]")
	}
	return write(args[0], shots, samples)
}

// write writes the captures to FOLDER/captures and the set-up beside them.
func write(dir string, shots, samples int) error {
	if err := os.MkdirAll(filepath.Join(dir, "captures"), 0o755); err != nil {
		return err
	}
	in := model.DemoInstrument()
	if err := os.WriteFile(filepath.Join(dir, "bench.toml"), []byte(model.SetupTOML(in)), 0o644); err != nil {
		return err
	}
	points := model.Campaign()
	points = points[:min(len(points), max(shots, 0))]
	waves := make([]*model.Waveforms, len(points))
	for k := range points {
		waves[k] = points[k].Waveforms()
	}
	var group errgroup.Group
	group.SetLimit(runtime.GOMAXPROCS(0))
	for k := range shots {
		group.Go(func() error {
			w := waves[k%len(waves)]
			in := in
			in.Fs = float64(samples) / (w.Span.To - w.Span.From)
			name := filepath.Join(dir, "captures", fmt.Sprintf("shot-%05d.csv", k+1))
			return writeFile(name, func(f io.Writer) error { return model.WriteCSV(f, model.Capture(w, in, uint64(k+1))) })
		})
	}
	return group.Wait()
}

func writeFile(name string, write func(io.Writer) error) error {
	f, err := os.Create(name)
	if err != nil {
		return err
	}
	return errors.Join(write(f), f.Close())
}

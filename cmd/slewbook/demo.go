package main

import (
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"slewbook/dpt/model"
	"slewbook/dpt/result"
	"slewbook/reports"
	"slewbook/waveform/unit"
)

// demoMark is the file by which a folder is known to be a demo's.
const demoMark = "INVENTED.txt"

// demoPartnerBus is the bus voltage at which the demo records the partner as well [V].
const demoPartnerBus = 600

const demoText = `All data in this folder is invented: slewbook demo made it from a waveform
model of a half bridge that does not exist. It says nothing of any real device.
`

func newDemoCmd() *cobra.Command {
	return &cobra.Command{
		Use:   "demo [DIR]",
		Short: "Write an invented campaign, measure it, and compare with the known answers",
		Long: `demo writes captures of an invented campaign (three bus voltages, four currents)
to DIR (slewbook-demo if it is not given), measures them through the same code as
any folder, writes results and figures, and prints what it found against the
answers known from the waveform model. It fails if a quantity is out of its
tolerance.`,
		Example: "  slewbook demo\n  slewbook demo /tmp/demo",
		Args:    cobra.MaximumNArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			dir := "slewbook-demo"
			if len(args) > 0 {
				dir = args[0]
			}
			return demo(dir, cmd.OutOrStdout(), cmd.ErrOrStderr())
		},
	}
}

func demo(dir string, stdout, stderr io.Writer) error {
	known, err := writeDemo(dir)
	if err != nil {
		return err
	}
	captures, results, setup := filepath.Join(dir, "captures"), filepath.Join(dir, "results"), filepath.Join(dir, "bench.toml")
	fmt.Fprintf(stdout, "Invented campaign (no real device): %d captures in %s\n\n", len(known), captures)
	bench, err := loadBench(setup)
	if err != nil {
		return err
	}
	opt, err := bench.options()
	if err != nil {
		return err
	}
	opt.AllWindows = true
	var shots []*result.Shot
	measure := measureRun{paths: []string{captures}, bench: bench, opt: opt, out: outputFlags{figureFlags: figureFlags{dir: results, figures: reports.DefaultFolder()}}, redo: true,
		each: func(s *result.Shot) { shots = append(shots, s) }}
	if err := measure.do(stdout, stderr); err != nil {
		return err
	}
	misses := compareDemo(stdout, shots, known)
	fmt.Fprintf(stdout, `
Captures, set-up and results are in %s. Open %s
in a browser, then measure your own folder: slewbook measure FOLDER --out RESULTS
`, dir, filepath.Join(results, "report.html"))
	if misses > 0 {
		return fmt.Errorf("%d quantities are out of tolerance: slewbook does not measure right: %w", misses, errShots)
	}
	return nil
}

// writeDemo writes the captures and the set-up, and returns the known answers
// by the name of the capture. A folder with other things in it is left alone.
func writeDemo(dir string) (map[string]model.Answers, error) {
	entries, err := os.ReadDir(dir)
	if err != nil && !os.IsNotExist(err) {
		return nil, err
	}
	if _, err := os.Stat(filepath.Join(dir, demoMark)); len(entries) > 0 && err != nil {
		return nil, fmt.Errorf("%s holds other files than a demo's; give an empty or a new folder", dir)
	}
	known := map[string]model.Answers{}
	in := model.DemoInstrument()
	for k, s := range model.Campaign() {
		w, in := s.Waveforms(), in
		if s.Vbus == demoPartnerBus {
			in = in.WithPartner()
		}
		known[s.Name] = model.Known(w, in)
		c := model.Capture(w, in, uint64(k+1))
		err := writeFile(filepath.Join(dir, "captures", filepath.FromSlash(s.Name)+".csv"), func(f io.Writer) error { return model.WriteCSV(f, c) })
		if err != nil {
			return nil, err
		}
	}
	for name, text := range map[string]string{"bench.toml": model.SetupTOML(in), demoMark: demoText} {
		if err := writeFile(filepath.Join(dir, name), func(f io.Writer) error { _, err := io.WriteString(f, text); return err }); err != nil {
			return nil, err
		}
	}
	return known, nil
}

// writeFile writes a file whole or not at all.
func writeFile(path string, write func(io.Writer) error) error {
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		return err
	}
	f, err := os.CreateTemp(filepath.Dir(path), ".slewbook-*")
	if err != nil {
		return err
	}
	defer os.Remove(f.Name()) // fails once it is renamed
	err = write(f)
	if cerr := f.Close(); err == nil {
		err = cerr
	}
	if err != nil {
		return err
	}
	if err := os.Chmod(f.Name(), 0o644); err != nil {
		return err
	}
	return os.Rename(f.Name(), path)
}

// tally sums up how one quantity fared over all shots.
type tally struct {
	n, missed int
	worst     float64 // largest |found - known| relative to its tolerance
	at        string  // where
	found     float64
	known     model.Answer
}

// compareDemo prints what was found against what is known, and returns how many
// quantities and events are out of tolerance.
func compareDemo(w io.Writer, shots []*result.Shot, known map[string]model.Answers) int {
	tallies := map[string]*tally{}
	var order []string
	misses, events := 0, 0
	for _, s := range shots {
		want := known[s.Capture]
		events += len(want.Events)
		for k, ev := range want.Events {
			ok := len(s.Events) == len(want.Events) && s.Events[k].Edge == ev.Edge && s.Events[k].Pulse == ev.Pulse &&
				math.Abs(s.Events[k].T-ev.T) <= want.TolEvent
			if !ok {
				fmt.Fprintf(w, "MISSED %s: %s of pulse %d at %.9g s\n", s.Capture, ev.Edge, ev.Pulse, ev.T)
				misses++
			}
		}
		for _, m := range s.Quantities {
			a, ok := want.Values[m.Key]
			if !ok {
				continue
			}
			t := tallies[m.Key]
			if t == nil {
				t = &tally{}
				tallies[m.Key] = t
				order = append(order, m.Key)
			}
			if !t.add(s.Capture, m.Value, a) {
				misses++
			}
		}
	}
	fmt.Fprintf(w, "\nFound against known, worst of %d shots (%d events)\n", len(shots), events)
	fmt.Fprintf(w, "%-16s %14s %14s %14s %8s  %s\n", "quantity", "found", "known", "off by", "of tol.", "at")
	for _, key := range order {
		t := tallies[key]
		c, _ := result.FindColumn(key)
		mark := ""
		if t.missed > 0 {
			mark = fmt.Sprintf("  %d OUT OF TOLERANCE (%s)", t.missed, t.known.Why)
		}
		show := func(x float64, digits int) string {
			text := unit.Format(x, c.Unit, digits)
			if !utf8Locale() {
				text = unit.ASCII(text)
			}
			return text
		}
		fmt.Fprintf(w, "%-16s %14s %14s %14s %7.0f%%  %s%s\n", key, show(t.found, 5), show(t.known.Value, 5), show(t.found-t.known.Value, 2), 100*t.worst, t.at, mark)
	}
	if misses == 0 {
		fmt.Fprintf(w, "%s\n", strings.ToUpper("all within tolerance"))
	}
	return misses
}

// add counts one shot, and tells whether it is within tolerance.
func (t *tally) add(at string, found float64, known model.Answer) bool {
	t.n++
	off := math.Abs(found-known.Value) / known.Tol
	ok := off <= 1
	if !ok {
		t.missed++
	}
	if !(off <= t.worst) || t.at == "" {
		t.worst, t.at, t.found, t.known = off, at, found, known
	}
	return ok
}

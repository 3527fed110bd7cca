package main

import (
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"

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

// demoNames tells the conditions that the names of the captures hold.
const demoNames = `
[file]
pattern = "bus-{v_bus}/i-{i_load}"
`

const demoText = `All data in this folder is invented: slewbook demo made it from a waveform
model of a half bridge that does not exist. It says nothing of any real device.
`

func newDemoCmd() *cobra.Command {
	var asJSON bool
	cmd := &cobra.Command{
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
			return demo(dir, asJSON, cmd.OutOrStdout(), cmd.ErrOrStderr())
		},
	}
	cmd.Flags().BoolVar(&asJSON, "json", false, "write one JSON object a shot, then one a quantity that is known, on stdout and nothing else there")
	return cmd
}

func demo(dir string, asJSON bool, stdout, stderr io.Writer) error {
	known, err := writeDemo(dir)
	if err != nil {
		return err
	}
	captures, results, setup := filepath.Join(dir, "captures"), filepath.Join(dir, "results"), filepath.Join(dir, "bench.toml")
	people := stdout // what only they read
	if asJSON {
		people = io.Discard
	}
	fmt.Fprintf(people, "Invented campaign (no real device): %d captures in %s\n\n", len(known), captures)
	bench, err := loadBench(setup)
	if err != nil {
		return err
	}
	opt, err := bench.options()
	if err != nil {
		return err
	}
	opt.AllWindows = true
	plan, err := bench.plan("")
	if err != nil {
		return err
	}
	var shots []*result.Shot
	measure := measureRun{paths: []string{captures}, bench: bench, opt: opt, plan: plan, asJSON: asJSON, out: outputFlags{figureFlags: figureFlags{dir: results, figures: reports.DefaultFolder()}}, redo: true,
		each: func(s *result.Shot) { shots = append(shots, s) }}
	if err := measure.do(stdout, stderr); err != nil {
		return err
	}
	found := compareDemo(shots, known)
	if asJSON {
		err = found.writeJSON(stdout)
	} else {
		err = found.writeText(stdout)
	}
	if err != nil {
		return err
	}
	fmt.Fprintf(people, `
Captures, set-up and results are in %s. Open %s
in a browser, then measure your own folder: slewbook measure FOLDER --out RESULTS
`, dir, filepath.Join(results, "report.html"))
	if n := found.misses(); n > 0 {
		return fmt.Errorf("%d quantities or events are out of tolerance: slewbook does not measure right: %w", n, errShots)
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
	for name, text := range map[string]string{"bench.toml": model.SetupTOML(in) + demoNames, demoMark: demoText} {
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
	key       string
	n, missed int
	worst     float64 // largest |found - known| relative to its tolerance
	at        string  // where
	found     float64
	known     model.Answer
}

// comparison is what the demo found against what is known.
type comparison struct {
	shots, events int
	lost          []string // events that were not found
	tallies       []*tally
}

// compareDemo holds what was found against what is known.
func compareDemo(shots []*result.Shot, known map[string]model.Answers) comparison {
	c := comparison{shots: len(shots)}
	at := map[string]*tally{}
	for _, s := range shots {
		want := known[s.Capture]
		c.events += len(want.Events)
		for k, ev := range want.Events {
			ok := len(s.Events) == len(want.Events) && s.Events[k].Edge == ev.Edge && s.Events[k].Pulse == ev.Pulse &&
				math.Abs(s.Events[k].T-ev.T) <= want.TolEvent
			if !ok {
				c.lost = append(c.lost, fmt.Sprintf("%s: %s of pulse %d at %.9g s", s.Capture, ev.Edge, ev.Pulse, ev.T))
			}
		}
		for _, m := range s.Quantities {
			a, ok := want.Values[m.Key]
			if !ok {
				continue
			}
			if at[m.Key] == nil {
				at[m.Key] = &tally{key: m.Key}
				c.tallies = append(c.tallies, at[m.Key])
			}
			at[m.Key].add(s.Capture, m.Value, a)
		}
	}
	return c
}

// misses is how many quantities and events are out of tolerance.
func (c comparison) misses() int {
	n := len(c.lost)
	for _, t := range c.tallies {
		n += t.missed
	}
	return n
}

func (c comparison) writeText(w io.Writer) error {
	for _, l := range c.lost {
		fmt.Fprintf(w, "MISSED %s\n", l)
	}
	rows := [][]string{{"quantity", "found", "known", "off by", "of tol.", "at"}}
	for _, t := range c.tallies {
		column, _ := result.FindColumn(t.key)
		at := t.at
		if t.missed > 0 {
			at += fmt.Sprintf("  %d OUT OF TOLERANCE (%s)", t.missed, t.known.Why)
		}
		show := func(x float64, digits int) string { return unit.Format(x, column.Unit, digits) }
		rows = append(rows, []string{t.key, show(t.found, 5), show(t.known.Value, 5), show(t.found-t.known.Value, 2), fmt.Sprintf("%.0f%%", 100*t.worst), at})
	}
	fmt.Fprintf(w, "\nFound against known, worst of %d shots (%d events)\n", c.shots, c.events)
	err := reports.Table{Rows: rows, Keys: 1, Words: 1}.Write(w, textOptions(w))
	if c.misses() == 0 {
		fmt.Fprintln(w, "ALL WITHIN TOLERANCE")
	}
	return err
}

func (c comparison) writeJSON(w io.Writer) error {
	for _, t := range c.tallies {
		column, _ := result.FindColumn(t.key)
		err := reports.WriteObject(w, "scope", "known", "key", t.key, "unit", column.Unit, "shots", t.n, "out_of_tolerance", t.missed,
			"capture", t.at, "found", t.found, "known", t.known.Value, "tolerance", t.known.Tol, "why", t.known.Why)
		if err != nil {
			return err
		}
	}
	return reports.WriteObject(w, "scope", "events", "known", c.events, "lost", c.lost)
}

// add counts one shot.
func (t *tally) add(at string, found float64, known model.Answer) {
	t.n++
	off := math.Abs(found-known.Value) / known.Tol
	if !(off <= 1) {
		t.missed++
	}
	if !(off <= t.worst) || t.at == "" {
		t.worst, t.at, t.found, t.known = off, at, found, known
	}
}

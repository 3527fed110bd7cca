package main

import (
	"bufio"
	"cmp"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"strconv"

	"github.com/spf13/cobra"

	"slewbook/dpt"
	"slewbook/dpt/model"
	"slewbook/dpt/plan"
	"slewbook/dpt/result"
	"slewbook/dpt/setup"
	"slewbook/reports"
	"slewbook/waveform"
)

func newPlanCmd() *cobra.Command {
	var flags planFlags
	cmd := &cobra.Command{
		Use:   "plan",
		Short: "Size pulses, inductor, bank and probes for a test matrix",
		Long: `plan takes a test matrix ([plan] v_bus, i, tj, repeats) and the bench from the
set-up file, and works out for each point: pulse widths, the voltage to charge to,
sag, current through gap and second pulse, peak voltage, stored energy, heating,
and what scope, probes and alignment must be able to do. A point that breaks a
limit is marked with the nearest that does not; a limit of which nothing is known
is told as not checked. It computes; it allows nothing: local rules and competent
persons decide.

--out writes plan.csv (every figure), shots.csv (the shots to take, from low to
high), pulses.csv (times for a pulse generator), sheet.html and sheet.pdf (to
print: stored energy, cautions, stop rules, the shots in their order). Points that
break a limit are in neither of the middle two. --rehearse writes besides a capture
of each shot from the waveform model of the demo, an invented device with this
bench's pulses, so that the analysis can be rehearsed before the bench is on, and
draws the waveforms of each point on the sheet.`,
		Example: `  slewbook plan --setup examples/plan.toml
  slewbook explain plan.v_sag`,
		Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			return flags.run(cmd.OutOrStdout(), cmd.ErrOrStderr())
		},
	}
	cmd.Flags().StringVar(&flags.setup, "setup", "", "set-up `file` of the bench, with a [plan]")
	cmd.Flags().BoolVar(&flags.json, "json", false, "one JSON object a point")
	cmd.Flags().StringVar(&flags.out, "out", "", "`folder` to write the plan's files to")
	cmd.Flags().BoolVar(&flags.rehearse, "rehearse", false, "with --out: write captures of the planned shots from the waveform model")
	return cmd
}

type planFlags struct {
	setup, out     string
	json, rehearse bool
}

func (f planFlags) run(stdout, stderr io.Writer) error {
	if f.setup == "" {
		return errors.New("--setup is missing: name the set-up file with [plan] and the bench; slewbook setup writes a template")
	}
	if f.rehearse && f.out == "" {
		return errors.New("--rehearse needs --out: name the folder to write the captures to")
	}
	bench, err := setup.Load(f.setup)
	if err != nil {
		return err
	}
	b := bench.Bench()
	p, err := plan.Make(b)
	if err != nil {
		return fmt.Errorf("%s: %w", f.setup, err)
	}
	out := bufio.NewWriter(stdout)
	write := reports.WritePlanJSON
	if !f.json {
		write = func(w io.Writer, p *result.Plan) error { return reports.WritePlanText(w, p, textOptions(stdout)) }
	}
	if err := errors.Join(write(out, &p), out.Flush()); err != nil || f.out == "" {
		return err
	}
	if err := f.files(&p, b, bench); err != nil {
		return err
	}
	if f.rehearse {
		tell(stderr, "the rehearsal's captures are of an invented device: current, bus and sag are the plan's, slopes, recovery and peaks are not")
	}
	return nil
}

// files writes the plan's folder, which must not exist yet.
func (f planFlags) files(p *result.Plan, b plan.Bench, bench *setup.Setup) error {
	if _, err := os.Lstat(f.out); !errors.Is(err, fs.ErrNotExist) {
		return fmt.Errorf("%s exists; name a folder that does not", f.out)
	}
	for _, file := range []struct {
		name  string
		write func(io.Writer, *result.Plan) error
	}{{"plan.csv", reports.WritePlanCSV}, {"shots.csv", writeShotList}, {"pulses.csv", reports.WritePulsesCSV}} {
		if err := writeFile(filepath.Join(f.out, file.name), func(w io.Writer) error { return file.write(w, p) }); err != nil {
			return err
		}
	}
	var pictures []reports.Picture
	if f.rehearse {
		var err error
		if pictures, err = rehearse(filepath.Join(f.out, "rehearsal"), p, b, bench); err != nil {
			return err
		}
	}
	return errors.Join(
		writeFile(filepath.Join(f.out, "sheet.html"), func(w io.Writer) error { return reports.WritePlanSheet(w, p, pictures) }),
		writeFile(filepath.Join(f.out, "sheet.pdf"), func(w io.Writer) error { return reports.WritePlanPDF(w, p, pictures) }))
}

// shotName is the slash path of a planned shot.
func shotName(p *result.Plan, point, repeat int) string {
	name := fmt.Sprintf("bus-%04.0fV/i-%04.0fA", p.Value(point, "v_bus"), p.Value(point, "i_off"))
	if tj := p.Value(point, "tj"); !math.IsNaN(tj) {
		name = fmt.Sprintf("tj-%.0fK/", tj) + name
	}
	return fmt.Sprintf("%s-%d", name, repeat)
}

// eachShot calls f for every shot of the points that break no limit.
func eachShot(p *result.Plan, f func(point, repeat int) error) error {
	for k, pt := range p.Points {
		if len(pt.Notes()) > 0 {
			continue
		}
		for n := 1; n <= p.Repeats; n++ {
			if err := f(k, n); err != nil {
				return err
			}
		}
	}
	return nil
}

// writeShotList writes the shots to take in their order.
func writeShotList(w io.Writer, p *result.Plan) error {
	number := func(x float64) string { return strconv.FormatFloat(x, 'g', -1, 64) }
	rows := [][]string{{"file", "v_bus (V)", "i_load (A)", "tj (K)", "repeat", "remark"}}
	err := eachShot(p, func(k, n int) error {
		tj := ""
		if x := p.Value(k, "tj"); !math.IsNaN(x) {
			tj = number(x)
		}
		rows = append(rows, []string{shotName(p, k, n) + ".csv", number(p.Value(k, "v_bus")), number(p.Value(k, "i_off")), tj, strconv.Itoa(n), ""})
		return nil
	})
	return errors.Join(err, reports.WriteRowsCSV(w, rows))
}

// rehearse writes a capture of each planned shot: the demo's invented device on
// this bench. It returns a figure of the first shot of each point.
func rehearse(dir string, p *result.Plan, b plan.Bench, bench *setup.Setup) ([]reports.Picture, error) {
	in := model.DemoInstrument()
	if b.SampleRate > 0 {
		in.Fs = b.SampleRate
	}
	if err := writeFile(filepath.Join(dir, demoMark), func(w io.Writer) error { _, err := io.WriteString(w, demoText); return err }); err != nil {
		return nil, err
	}
	seed := uint64(0)
	var pictures []reports.Picture
	err := eachShot(p, func(k, n int) error {
		s := planned(p, k, b, bench)
		s.Name = shotName(p, k, n)
		seed++
		in := in
		// Ranges that hold what is expected, as the operator would set them.
		in.V.Range.Min, in.V.Range.Max = -0.2*p.Value(k, "v_set"), 1.6*p.Value(k, "v_set")
		in.I.Range.Min, in.I.Range.Max = -p.Value(k, "i_end"), 3*p.Value(k, "i_end")
		in.V.Delay, in.I.Delay, in.Vgs.Delay = bench.Channel[result.Vds].Delay, bench.Channel[result.Id].Delay, bench.Channel[result.Vgs].Delay
		c := model.Capture(s.Waveforms(), in, seed)
		export(c, bench)
		if n == 1 {
			picture, err := predicted(c, bench.Options(), k)
			if err != nil {
				return err
			}
			pictures = append(pictures, picture)
		}
		return writeFile(filepath.Join(dir, filepath.FromSlash(s.Name)+".csv"), func(w io.Writer) error { return model.WriteCSV(w, c) })
	})
	return pictures, err
}

// export turns the channels of a capture into what the set-up expects to find in a
// file: its names, and what scale, sign and offset make the samples of.
func export(c *waveform.Capture, bench *setup.Setup) {
	for k, role := range []result.Role{result.Vds, result.Id, result.Vgs} {
		ch, given := bench.Channel[role]
		if !given {
			continue
		}
		tr := c.Traces[k]
		tr.Name = cmp.Or(ch.Source, tr.Name)
		factor := ch.Scale
		if ch.Invert {
			factor = -factor
		}
		for j := range tr.Y {
			tr.Y[j] = (tr.Y[j] + ch.Offset) / factor
		}
	}
}

// predicted draws the waveforms of a point, read as any capture of the bench is.
func predicted(c *waveform.Capture, opt dpt.Options, point int) (reports.Picture, error) {
	shot, err := dpt.Measure(c, opt)
	if err != nil {
		return reports.Picture{}, err
	}
	shot.Capture = "predicted, invented device: " + c.Name
	figures, err := reports.DrawShot(&shot, reports.DefaultFolder().Style)
	if err != nil {
		return reports.Picture{}, err
	}
	return reports.Picture{Name: fmt.Sprintf("Point %d, %s", point+1, c.Name), Figure: figures[0]}, nil
}

// planned is the shot of a point on the demo's invented half bridge.
func planned(p *result.Plan, k int, b plan.Bench, bench *setup.Setup) model.Shot {
	s := model.Demo(p.Value(k, "v_set"), p.Value(k, "i_off"))
	s.LLoad, s.CBus, s.First, s.Gap, s.Width = b.L, b.C, p.Value(k, "t_1"), b.Gap, b.Width
	s.Before, s.After = b.Before, b.After
	for _, x := range []struct {
		to    *float64
		given float64
	}{{&s.LLoop, b.LLoop}, {&s.CLoad, b.CWinding}, {&s.RgOn, bench.Circuit.RgOn}, {&s.RgOff, bench.Circuit.RgOff}, {&s.Tj, p.Value(k, "tj")}} {
		if x.given > 0 {
			*x.to = x.given
		}
	}
	return s
}

package main

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"slewbook/dpt"
	"slewbook/dpt/loss"
	"slewbook/dpt/plan"
	"slewbook/dpt/result"
	"slewbook/dpt/setup"
	"slewbook/reports"
)

type explainFlags struct {
	setup       string
	json        bool
	definitions definitionFlags
	figures     figureFlags
	trials      trialFlags
	correct     correctFlag
}

func newExplainCmd() *cobra.Command {
	var flags explainFlags
	cmd := &cobra.Command{
		Use:   "explain [CAPTURE] KEY",
		Short: "Tell what a quantity is, and why a capture has that number",
		Long: `explain KEY tells one quantity: what it is, its levels, formula and source, and
what its uncertainty is made of. explain CAPTURE KEY tells why that capture has
that number: bases and levels with raw and corrected values, window, corrections,
running integral, sensitivity to delay, the same under other definitions, and the
uncertainty line by line, checked by trials with --monte-carlo. With --out it draws that as a figure, with the number
read again at other delays and levels. KEY may name a definition: e_off.v5-i5.
plan.KEY is a figure of the plan, losses.KEY one of a converter's losses; plan.KEY with
--setup also tells its inputs at every point.`,
		Example: `  slewbook explain e_off
  slewbook explain shot-012.csv e_off --setup bench.toml --out why
  slewbook explain plan.v_sag --setup examples/plan.toml`,
		Args: cobra.RangeArgs(1, 2),
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := flags.figures.parse(); err != nil {
				return err
			}
			if len(args) == 2 {
				return flags.run(args[0], args[1], cmd.OutOrStdout(), cmd.ErrOrStderr())
			}
			if known, err := flags.explainFigure(cmd.OutOrStdout(), args[0]); known {
				return err
			}
			return writeDefinition(cmd.OutOrStdout(), args[0], flags.json)
		},
	}
	cmd.Flags().StringVar(&flags.setup, "setup", "", "set-up `file` of the bench (TOML; slewbook setup writes a template)")
	cmd.Flags().BoolVar(&flags.json, "json", false, "write one JSON object, of a CAPTURE one a shot, on stdout and nothing else there")
	flags.definitions.add(cmd)
	flags.figures.add(cmd)
	flags.trials.add(cmd)
	flags.correct.add(cmd)
	return cmd
}

// run tells why the captures under a path have the number that they have.
func (f *explainFlags) run(path, key string, stdout, stderr io.Writer) error {
	bench, opt, err := f.options(key)
	if err != nil {
		return err
	}
	sources, err := findSources([]string{path}, bench, stderr)
	if err != nil {
		return err
	}
	failed := false
	work := func(o opened) explained { return f.explain(o, opt, key, textOptions(stdout)) }
	done := func(e explained) error {
		failed = failed || e.failed
		if _, err := stdout.Write(e.text); err != nil {
			return err
		}
		return e.err
	}
	if err := eachSource(sources, work, done); err != nil {
		return err
	}
	if failed {
		return errShots
	}
	return nil
}

// options returns the bench and its options, with all that an explanation asks for.
func (f *explainFlags) options(key string) (bench, dpt.Options, error) {
	b, err := loadBench(f.setup)
	if err != nil {
		return b, dpt.Options{}, err
	}
	opt, err := b.options()
	if err != nil {
		return b, opt, err
	}
	quantity, ok := result.FindColumn(key)
	if !ok {
		return b, opt, fmt.Errorf("no quantity has the key %q; slewbook measure --json tells those of a capture", key)
	}
	chosen := f.definitions
	if column, name, dotted := strings.Cut(key, "."); dotted && !result.IsBranch(name) {
		chosen.single = append(chosen.single, column+"="+name)
	}
	if err := chosen.apply(&opt); err != nil {
		return b, opt, err
	}
	if err := f.correct.apply(&opt); err != nil {
		return b, opt, err
	}
	opt.Drawings, opt.AllDefinitions = true, true
	opt.MonteCarlo, opt.Simulate = f.trials.simulation(ofOne), quantity.Key
	return b, opt, opt.Validate()
}

// explainFigure tells a figure of the plan or of the losses, which are told apart by
// what stands in front of the point; known tells whether it is one of these names.
func (f *explainFlags) explainFigure(w io.Writer, name string) (known bool, err error) {
	of, key, _ := strings.Cut(name, ".")
	var all []result.PlanFigure
	switch of {
	case "plan":
		for _, f := range plan.Figures {
			all = append(all, f.PlanFigure)
		}
	case "losses":
		for _, f := range loss.Figures {
			all = append(all, f.PlanFigure)
		}
	default:
		return false, nil
	}
	k := slices.IndexFunc(all, func(f result.PlanFigure) bool { return f.Key == key })
	if k < 0 {
		names := namesOf(all, func(f result.PlanFigure) string { return f.Key })
		return true, fmt.Errorf("no figure of the %s is named %q; expected one of %s", of, key, strings.Join(names, ", "))
	}
	x := reports.Explained{Of: of, PlanFigure: all[k]}
	bench := new(setup.Setup)
	if f.setup != "" {
		if of == "losses" {
			return true, errors.New("--setup: losses are not planned from the set-up file; slewbook losses takes the converter")
		}
		if bench, err = setup.Load(f.setup); err != nil {
			return true, err
		}
		p, err := plan.Make(bench.Bench())
		if err != nil {
			return true, fmt.Errorf("%s: %w", f.setup, err)
		}
		x.Plan = &p
	}
	for _, name := range x.PlanFigure.Inputs {
		in := inputOf(name, of, all, bench)
		if f.setup == "" {
			in.Value = math.NaN()
		}
		x.Inputs = append(x.Inputs, in)
	}
	if f.json {
		return true, reports.WriteFigureJSON(w, x)
	}
	return true, reports.WriteFigureText(w, x, textOptions(w))
}

// inputOf finds the unit of an input, and its value where the bench gives one.
func inputOf(name, of string, figures []result.PlanFigure, bench *setup.Setup) reports.Input {
	in := reports.Input{Name: name, Value: math.NaN()}
	k := slices.IndexFunc(figures, func(f result.PlanFigure) bool { return f.Key == name })
	switch {
	case k >= 0:
		in.Unit = figures[k].Unit
	case of == "losses":
		in.Unit, _ = loss.Unit(name)
	default:
		in.Value, in.Unit, _ = bench.Given(name)
	}
	return in
}

// explained is what there is to say about the captures of one source.
type explained struct {
	text   []byte
	failed bool
	err    error
}

func (f *explainFlags) explain(o opened, opt dpt.Options, key string, text reports.TextOptions) explained {
	if o.err != nil {
		return explained{text: f.failed(o.source.Name, key, o.err), failed: true}
	}
	var e explained
	var b bytes.Buffer
	write := func(s *result.Shot) error { return reports.WriteWhy(&b, s, key, text) }
	if f.json {
		write = func(s *result.Shot) error { return reports.WriteWhyJSON(&b, s, key) }
	}
	for k, c := range o.captures {
		if k > 0 && !f.json {
			fmt.Fprintln(&b)
		}
		shot, err := dpt.Measure(c, opt)
		if err != nil {
			b.Write(f.failed(c.Name, key, err))
			e.failed = true
			continue
		}
		if e.err = write(&shot); e.err == nil {
			e.err = f.draw(&shot, key)
		}
		if e.err != nil {
			break
		}
	}
	e.text = b.Bytes()
	return e
}

// failed tells why a capture has no number at all.
func (f *explainFlags) failed(capture, key string, err error) []byte {
	if !f.json {
		return fmt.Appendf(nil, "%s: %v\n", capture, err)
	}
	var b bytes.Buffer
	reports.WriteObject(&b, "capture", capture, "key", key, "error", err.Error()) // a Buffer takes all
	return b.Bytes()
}

// draw writes the figures of a quantity where a folder for them is given.
func (f *explainFlags) draw(shot *result.Shot, key string) error {
	if f.figures.dir == "" {
		return nil
	}
	figures, err := reports.DrawWhy(shot, key, f.figures.figures.Style)
	if err != nil {
		return err
	}
	for _, figure := range figures {
		if err := f.figures.write(reports.WhyPath(shot.Capture, key, figure.Part), figure); err != nil {
			return err
		}
	}
	return nil
}

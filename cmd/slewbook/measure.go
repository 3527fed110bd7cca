package main

import (
	"io"
	"math"
	"os"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"slewbook/dpt"
	"slewbook/dpt/result"
	"slewbook/reports"
	"slewbook/waveform"
	"slewbook/waveform/format"
)

// benchFlags are the flags of all commands that know the bench.
type benchFlags struct {
	setup string
	json  bool
}

func (f *benchFlags) add(cmd *cobra.Command) {
	cmd.Flags().StringVar(&f.setup, "setup", "", "set-up `file` of the bench (TOML; slewbook setup writes a template)")
	cmd.Flags().BoolVar(&f.json, "json", false, "write one JSON object a line on stdout and nothing else there")
}

// open reads the set-up and lists the captures under the paths.
func (f *benchFlags) open(paths []string, stderr io.Writer) (dpt.Options, []format.Source, error) {
	bench, err := loadBench(f.setup)
	if err != nil {
		return dpt.Options{}, nil, err
	}
	opt, err := bench.options()
	if err != nil {
		return opt, nil, err
	}
	sources, err := findSources(paths, bench, stderr)
	return opt, sources, err
}

func newMeasureCmd() *cobra.Command {
	var flags benchFlags
	var out outputFlags
	var windows []string
	var chosen definitionFlags
	var all, allDefinitions, noZero, both bool
	var off, on int
	var level, align, list, simulated string
	var correct correctFlag
	var run measureRun
	var trials trialFlags
	cmd := &cobra.Command{
		Use:   "measure PATH...",
		Short: "Read the switching quantities of each shot",
		Long: `measure reads every capture under each PATH (a file, a folder that holds one
shot as several files, or a folder tree of shots) and writes a table with a row
a shot; with --out also CSV, JSON lines, Parquet and a figure for each shot.

With --out a run that was stopped, by whatever, goes on where it was, and shots
whose files, settings and conditions are as before are not measured again.

Energies are terminal energies at the sense points. The turn-off is that of the
first pulse, the turn-on that of the second.`,
		Example: `  slewbook measure captures/
  slewbook measure captures/ --setup bench.toml --out results
  slewbook measure shot-012.csv --energy-window i10-v10 --json`,
		Args: cobra.MinimumNArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			bench, err := loadBench(flags.setup)
			if err != nil {
				return err
			}
			opt, err := bench.options()
			if err != nil {
				return err
			}
			if err := chosen.apply(&opt); err != nil {
				return err
			}
			if err := opt.SelectWindows(windows...); err != nil {
				return err
			}
			if noZero {
				opt.KeepZero = true
			}
			if cmd.Flags().Changed("level") {
				opt.Level = waveform.LevelMethod(level)
			}
			if cmd.Flags().Changed("align") {
				opt.Align = dpt.Align(align)
			}
			if err := correct.apply(&opt); err != nil {
				return err
			}
			if opt.Simulated = dpt.Simulated(simulated); simulated != "" {
				opt.Conditions = append(slices.Clone(opt.Conditions), result.Condition{Key: "simulated", Value: math.NaN(), Text: simulated})
			}
			opt.AllWindows, opt.AllDefinitions, opt.Both = all, allDefinitions, both
			opt.MonteCarlo = trials.simulation(ofAll)
			opt.PulseOff, opt.PulseOn = off, on
			if err := opt.Validate(); err != nil {
				return err
			}
			if err := out.parse(); err != nil {
				return err
			}
			out.setLocus(bench)
			plan, err := bench.plan(list)
			if err != nil {
				return err
			}
			run.paths, run.bench, run.opt, run.plan, run.asJSON, run.out = args, bench, opt, plan, flags.json, out
			return run.do(cmd.OutOrStdout(), cmd.ErrOrStderr())
		},
	}
	flags.add(cmd)
	out.add(cmd)
	run.add(cmd)
	cmd.Flags().StringVar(&list, "shots", "", "shot list `file` (CSV) with the conditions of each shot; slewbook list drafts one")
	cmd.Flags().StringSliceVar(&windows, "energy-window", nil, "`name` of the energy window; give it twice for turn-off and turn-on")
	cmd.Flags().BoolVar(&all, "all-windows", false, "report every named energy window as well")
	chosen.add(cmd)
	cmd.Flags().BoolVar(&allDefinitions, "all-definitions", false, "report every quantity under every named definition as well")
	cmd.Flags().BoolVar(&both, "both", false, "measure whichever of the two devices of a half bridge is under test, or both, each as a shot of its own")
	cmd.Flags().BoolVar(&noZero, "no-zero", false, "leave the zero of the current as it is")
	cmd.Flags().IntVar(&off, "pulse-off", 0, "measure the turn-off of pulse `N` (0: the first in the record)")
	cmd.Flags().IntVar(&on, "pulse-on", 0, "measure the turn-on of pulse `N` (0: the second)")
	correct.add(cmd)
	cmd.Flags().StringVar(&align, "align", string(dpt.AlignSuggest), "what to do about the delay of the current channel: off; suggest it; apply it where it is sure")
	cmd.Flags().StringVar(&simulated, "simulated", "", "the captures are of a simulation: `probed` slows each channel to the bandwidth that the set-up states of it, bare leaves it")
	trials.add(cmd)
	cmd.Flags().StringVar(&level, "level", "shorth", "how state levels are read: shorth or mode")
	return cmd
}

// textOptions lays text out for the stream and the locale.
func textOptions(w io.Writer) reports.TextOptions {
	opt := reports.TextOptions{ASCII: !utf8Locale()}
	if isTerminal(w) {
		opt.Color = os.Getenv("NO_COLOR") == ""
		opt.Width = columns(w.(*os.File))
	}
	return opt
}

// utf8Locale tells whether the locale can show µ and Ω: the first of LC_ALL,
// LC_CTYPE and LANG that is set says so; where none is, it is not asked for
// anything less.
func utf8Locale() bool {
	for _, name := range []string{"LC_ALL", "LC_CTYPE", "LANG"} {
		if v := strings.ToLower(os.Getenv(name)); v != "" {
			return strings.Contains(v, "utf-8") || strings.Contains(v, "utf8")
		}
	}
	return true
}

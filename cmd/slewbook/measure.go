package main

import (
	"bufio"
	"errors"
	"io"
	"os"
	"strings"

	"github.com/spf13/cobra"

	"slewbook/dpt"
	"slewbook/dpt/campaign"
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
	opt, err := loadOptions(f.setup)
	if err != nil {
		return opt, nil, err
	}
	sources, err := findSources(paths, f.setup, stderr)
	return opt, sources, err
}

func newMeasureCmd() *cobra.Command {
	var flags benchFlags
	var out outputFlags
	var windows []string
	var chosen definitionFlags
	var all, allDefinitions, noZero bool
	var off, on int
	var level, align, list string
	cmd := &cobra.Command{
		Use:   "measure PATH...",
		Short: "Read the switching quantities of each shot",
		Long: `measure reads every capture under each PATH (a file, a folder that holds one
shot as several files, or a folder tree of shots) and writes a table with a row
a shot; with --out also CSV, JSON lines and a figure for each shot.

Energies are terminal energies at the sense points. The turn-off is that of the
first pulse, the turn-on that of the second.`,
		Example: `  slewbook measure captures/
  slewbook measure captures/ --setup bench.toml --out results
  slewbook measure shot-012.csv --energy-window i10-v10 --json`,
		Args: cobra.MinimumNArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			opt, err := loadOptions(flags.setup)
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
			opt.AllWindows, opt.AllDefinitions = all, allDefinitions
			opt.PulseOff, opt.PulseOn = off, on
			if err := opt.Validate(); err != nil {
				return err
			}
			if err := out.parse(); err != nil {
				return err
			}
			plan, err := loadPlan(flags.setup, list)
			if err != nil {
				return err
			}
			_, err = measureAll(args, flags.setup, opt, plan, flags.json, out, cmd.OutOrStdout(), cmd.ErrOrStderr())
			return err
		},
	}
	flags.add(cmd)
	out.add(cmd)
	cmd.Flags().StringVar(&list, "shots", "", "shot list `file` (CSV) with the conditions of each shot; slewbook list drafts one")
	cmd.Flags().StringSliceVar(&windows, "energy-window", nil, "`name` of the energy window; give it twice for turn-off and turn-on")
	cmd.Flags().BoolVar(&all, "all-windows", false, "report every named energy window as well")
	chosen.add(cmd)
	cmd.Flags().BoolVar(&allDefinitions, "all-definitions", false, "report every quantity under every named definition as well")
	cmd.Flags().BoolVar(&noZero, "no-zero", false, "leave the zero of the current as it is")
	cmd.Flags().IntVar(&off, "pulse-off", 0, "measure the turn-off of pulse `N` (0: the first in the record)")
	cmd.Flags().IntVar(&on, "pulse-on", 0, "measure the turn-on of pulse `N` (0: the second)")
	cmd.Flags().StringVar(&align, "align", string(dpt.AlignSuggest), "what to do about the delay of the current channel: off; suggest it; apply it where it is sure")
	cmd.Flags().StringVar(&level, "level", "shorth", "how state levels are read: shorth or mode")
	return cmd
}

// measureAll measures the captures under the paths and renders the shots. It
// returns them without their traces.
func measureAll(paths []string, setup string, opt dpt.Options, plan campaign.Plan, asJSON bool, out outputFlags, stdout, stderr io.Writer) ([]*result.Shot, error) {
	sources, err := findSources(paths, setup, stderr)
	if err != nil {
		return nil, err
	}
	sources = withoutList(sources, plan.List)
	matrix, err := campaign.NewMatrix(plan, opt.Conditions)
	if err != nil {
		return nil, err
	}
	var folder *reports.Folder
	if out.dir != "" {
		if folder, err = reports.NewFolder(out.dir, out.figures); err != nil {
			return nil, err
		}
		defer folder.Abort()
	}
	lines := bufio.NewWriter(stdout)
	var shots []*result.Shot
	var cuts []reports.Cut
	failed := false
	work := func(o opened) []measured { return measureSource(o, opt, plan, folder, &out.overlay) }
	done := func(ms []measured) error {
		for _, m := range ms {
			failed = failed || m.shot.Err != nil
			matrix.Add(m.shot)
			if m.err != nil {
				return m.err
			}
			if asJSON {
				if err := errors.Join(reports.WriteShotJSON(lines, m.shot), lines.Flush()); err != nil {
					return err
				}
			}
			if folder != nil {
				if err := folder.Add(m.shot); err != nil {
					return err
				}
			}
			for k := range m.shot.Quantities {
				m.shot.Quantities[k].Budget = nil // written by now
			}
			shots, cuts = append(shots, m.shot), append(cuts, m.cuts...)
		}
		return nil
	}
	if err := eachSource(sources, work, done); err != nil {
		return nil, err
	}
	table := matrix.Table()
	if !asJSON {
		opt := textOptions(stdout)
		if err := errors.Join(reports.WriteText(lines, shots, opt), reports.WriteMatrixText(lines, table, opt), lines.Flush()); err != nil {
			return nil, err
		}
	}
	if folder != nil {
		if err := folder.AddMatrix(table); err != nil {
			return nil, err
		}
		if err := out.overlay.draw(folder, cuts, stderr); err != nil {
			return nil, err
		}
		if err := folder.Close(); err != nil {
			return nil, err
		}
	}
	if failed {
		return shots, errShots
	}
	return shots, nil
}

// measured is a shot, what overlays need of it, and what went wrong in drawing it.
type measured struct {
	shot *result.Shot
	cuts []reports.Cut
	err  error
}

// measureSource measures the captures of one source, draws their figures and
// drops their traces, so that memory does not grow with the number of shots.
func measureSource(o opened, opt dpt.Options, plan campaign.Plan, folder *reports.Folder, overlay *overlayFlags) []measured {
	if o.err != nil {
		conditions, _, err := plan.Conditions(opt.Conditions, o.source.Name)
		return []measured{{shot: &result.Shot{Capture: o.source.Name, Files: o.source.Files, Conditions: conditions, Version: opt.Version, Err: errors.Join(o.err, err)}}}
	}
	var ms []measured
	for _, c := range o.captures {
		shot := measureShot(c, opt, plan)
		m := measured{shot: &shot, cuts: overlay.cuts(&shot)}
		if folder != nil && shot.Err == nil {
			m.err = folder.Draw(&shot)
		}
		shot.Traces, shot.Raw = nil, nil
		ms = append(ms, m)
	}
	return ms
}

// measureShot measures a capture under the conditions that are known of it. The
// shot carries an error as its row's reason.
func measureShot(c *waveform.Capture, opt dpt.Options, plan campaign.Plan) result.Shot {
	conditions, warnings, err := plan.Conditions(opt.Conditions, c.Name)
	opt.Conditions = conditions
	shot, _ := dpt.Measure(c, opt)
	shot.Err = errors.Join(shot.Err, err)
	shot.Warnings = append(shot.Warnings, warnings...)
	if shot.Err == nil {
		campaign.Check(&shot)
	}
	return shot
}

// textOptions lays text out for the stream and the locale.
func textOptions(w io.Writer) reports.TextOptions {
	opt := reports.TextOptions{ASCII: !utf8Locale()}
	if f, ok := w.(*os.File); ok && os.Getenv("NO_COLOR") == "" && os.Getenv("TERM") != "dumb" {
		info, err := f.Stat()
		opt.Color = err == nil && info.Mode()&os.ModeCharDevice != 0
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

package main

import (
	"bufio"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"slewbook/dpt"
	"slewbook/dpt/campaign"
	"slewbook/dpt/result"
	"slewbook/reports"
	"slewbook/waveform"
)

// measureRun is one run of measure: what is measured, how, and where it goes.
type measureRun struct {
	paths  []string
	bench  bench
	opt    dpt.Options
	plan   campaign.Plan
	asJSON bool
	out    outputFlags
	each   func(*result.Shot) // is shown each shot, without its traces; nil for none

	shard     shard
	redo      bool // measure also what an earlier run has left
	noFigures bool // of each shot
	noReport  bool
	quiet     bool
	verbose   bool

	folder  *reports.Folder // nil for none
	program string          // what measures, where there is a folder
}

func (r *measureRun) add(cmd *cobra.Command) {
	cmd.Flags().Var(&r.shard, "shard", "measure only part K of N of the captures, by the hash of their names; slewbook merge puts the parts together")
	cmd.Flags().BoolVar(&r.redo, "redo", false, "measure again what an earlier run has left in the folder of --out")
	cmd.Flags().BoolVar(&r.noFigures, "no-figures", false, "draw no figure of each shot, which takes most of the time")
	cmd.Flags().BoolVar(&r.noReport, "no-report", false, "write no report.html; slewbook report writes one from the results")
	cmd.Flags().BoolVarP(&r.quiet, "quiet", "q", false, "tell no progress on stderr")
	cmd.Flags().BoolVarP(&r.verbose, "verbose", "v", false, "tell on stderr of each capture how long it took, the energy windows, warnings and why it was refused")
	cmd.MarkFlagsMutuallyExclusive("quiet", "verbose")
}

// gathered is what a source gave: its shots, what they were measured from, and
// what overlays need of them.
type gathered struct {
	source string
	from   reports.Origin
	shots  []*result.Shot
	kept   *reports.Kept // where an earlier run had measured it; else nil
	cuts   []reports.Cut
	took   time.Duration
	err    error // that ends the run
}

// do measures the captures under the paths and renders the shots.
func (r *measureRun) do(stdout, stderr io.Writer) error {
	sources, err := findSources(r.paths, r.bench, stderr)
	if err != nil {
		return err
	}
	noteMissing(r.plan.List, sources, stderr)
	shotSources := r.shard.in(pairs(withoutList(sources, r.plan.List), r.plan.List))
	matrix, err := campaign.NewMatrix(r.plan, r.opt.Conditions)
	if err != nil {
		return err
	}
	margins := r.bench.margins()
	if r.out.dir != "" {
		if err := apart(r.out.dir, sources); err != nil {
			return err
		}
		r.out.figures.NoShots = r.noFigures
		if r.folder, err = reports.NewFolder(r.out.dir, r.out.figures); err != nil {
			return err
		}
		defer r.folder.Abort()
		if r.program, err = readBuild().program(); err != nil {
			return err
		}
	}
	lines := bufio.NewWriter(stdout)
	bar := r.progress(len(shotSources), stderr)
	var shots []*result.Shot // what the text needs of them
	var cuts []reports.Cut
	failed := false
	err = inOrder(shotSources, r.timed, func(o gathered) error {
		if err := errors.Join(o.err, r.keep(o)); err != nil {
			return err
		}
		for _, s := range o.shots {
			failed = failed || s.Err != nil
			matrix.Add(s)
			margins.Add(s)
			if r.asJSON {
				if err := errors.Join(reports.WriteShotJSON(lines, s), lines.Flush()); err != nil {
					return err
				}
			} else {
				shots = append(shots, reports.ForText(s))
			}
			if r.each != nil {
				r.each(s)
			}
		}
		cuts = append(cuts, o.cuts...)
		bar.step(o)
		return nil
	})
	bar.end()
	if err != nil {
		return err
	}
	rated := margins.Table()
	var table result.Matrix // none of a part: the rest would be missing in it
	if r.shard.of == 0 {
		table = matrix.Table()
	}
	if !r.asJSON {
		opt := textOptions(stdout)
		if err := errors.Join(reports.WriteText(lines, shots, opt), reports.WriteMatrixText(lines, table, opt), reports.WriteMarginsText(lines, rated, opt), lines.Flush()); err != nil {
			return err
		}
	}
	if err := r.finish(table, rated, cuts, stderr); err != nil {
		return err
	}
	if failed {
		return errShots
	}
	return nil
}

// keep adds the shots of a source to the results.
func (r *measureRun) keep(o gathered) error {
	switch {
	case r.folder == nil || o.err != nil:
		return nil
	case o.kept != nil:
		return r.folder.Keep(o.kept)
	}
	return r.folder.Add(o.source, o.from, o.shots)
}

// finish completes the results.
func (r *measureRun) finish(table result.Matrix, margins []result.Margin, cuts []reports.Cut, stderr io.Writer) error {
	if r.folder == nil {
		return nil
	}
	if err := errors.Join(r.folder.AddMatrix(table), r.folder.AddMargins(margins)); err != nil {
		return err
	}
	if !r.noReport {
		if err := addReport(r.folder, table, margins, stderr); err != nil {
			return err
		}
	}
	if err := r.out.overlay.draw(r.folder, cuts, stderr); err != nil {
		return err
	}
	left := r.folder.Left()
	if err := r.folder.Close(); err != nil {
		return err
	}
	if left > 0 {
		tell(stderr, "%s: results of %d captures of an earlier run are replaced, which are not among these", r.out.dir, left)
	}
	return nil
}

// timed measures a source and tells how long that took.
func (r *measureRun) timed(s shotSource) gathered {
	start := time.Now()
	o := r.measure(s)
	o.took = time.Since(start)
	return o
}

// measure measures a source, unless an earlier run has left what it would give.
func (r *measureRun) measure(s shotSource) gathered {
	if r.folder != nil && !r.redo && r.out.overlay.vary == "" && r.folder.Known(s.Name) {
		// A file that cannot be read is for measuring to report.
		if sums, err := s.Sums(); err == nil {
			kept, err := r.folder.Kept(s.Name, func(captures []string) reports.Origin { return r.origin(s, sums, captures) })
			if err != nil || kept != nil {
				return gathered{source: s.Name, kept: kept, shots: r.asGiven(kept.Rows()), err: err}
			}
		}
	}
	ms := r.both(s)
	o := gathered{source: s.Name}
	var captures []string
	for _, m := range ms {
		o.shots, o.cuts, o.err = append(o.shots, m.shot), append(o.cuts, m.cuts...), errors.Join(o.err, m.err)
		captures = append(captures, m.shot.Capture)
	}
	if sums := o.shots[0].SHA256; len(sums) > 0 {
		o.from = r.origin(s, sums, captures)
	}
	return o
}

// asGiven gives shots of an earlier run their conditions as they are written now:
// the results hold the values alone.
func (r *measureRun) asGiven(shots []*result.Shot) []*result.Shot {
	for _, s := range shots {
		s.Conditions, _, _ = conditionsOf(r.plan, r.opt, s.Capture) // an error stands in the shot
	}
	return shots
}

// origin says what the shots of a source with these captures are measured from.
func (r *measureRun) origin(s shotSource, sums, captures []string) reports.Origin {
	given := sha256.New()
	fmt.Fprintf(given, "%q", r.program)
	for _, name := range captures {
		conditions, warnings, err := conditionsOf(r.plan, r.opt, name)
		fmt.Fprintf(given, "%q %+v %+v %v", name, conditions, warnings, err)
	}
	return reports.Origin{Content: s.Content(sums), Settings: r.opt.Hash(), Given: hex.EncodeToString(given.Sum(nil)[:16])}
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
		shot := &result.Shot{Capture: o.source.Name, Files: o.source.Files, Conditions: conditions, Version: opt.Version, Settings: opt.Hash(), Err: errors.Join(o.err, err)}
		if sums, err := o.source.Sums(); err == nil {
			shot.SHA256 = sums
		}
		return []measured{{shot: shot}}
	}
	var ms []measured
	var positions []dpt.Position
	for _, c := range o.captures {
		positions = append(positions, dpt.Positions(c, opt)...)
	}
	for _, p := range positions {
		shot := measureShot(p, plan)
		m := measured{shot: &shot, cuts: overlay.cuts(&shot)}
		if folder != nil && shot.Err == nil {
			m.err = folder.Draw(&shot)
		}
		shot.Traces, shot.Raw = nil, nil
		ms = append(ms, m)
	}
	return ms
}

// conditionsOf are the conditions that are known of a capture beforehand; of its partner
// as the device under test those of the capture, at the other position.
func conditionsOf(plan campaign.Plan, opt dpt.Options, capture string) ([]result.Condition, []waveform.Warning, error) {
	name, partner := capture, false
	if opt.Both {
		name, partner = strings.CutSuffix(capture, dpt.PartnerSuffix)
	}
	conditions, warnings, err := plan.Conditions(opt.Conditions, name)
	if partner {
		conditions = dpt.OtherPosition(conditions)
	}
	return conditions, warnings, err
}

// measureShot measures a position under the conditions that are known of it. The
// shot carries an error as its row's reason.
func measureShot(p dpt.Position, plan campaign.Plan) result.Shot {
	conditions, warnings, err := conditionsOf(plan, p.Options, p.Capture.Name)
	p.Options.Conditions = conditions
	shot, _ := dpt.Measure(p.Capture, p.Options)
	shot.Err = errors.Join(shot.Err, err)
	shot.Warnings = append(shot.Warnings, warnings...)
	if shot.Err == nil {
		campaign.Check(&shot)
	}
	return shot
}

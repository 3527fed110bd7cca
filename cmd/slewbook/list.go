package main

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math"
	"os"
	"strings"

	"github.com/spf13/cobra"

	"slewbook/dpt/campaign"
	"slewbook/dpt/result"
	"slewbook/reports"
	"slewbook/waveform"
	"slewbook/waveform/unit"
)

func newListCmd() *cobra.Command {
	var setup, out string
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "list PATH...",
		Short: "Draft the shot list of a folder",
		Long: `list drafts a shot list (CSV), a row a shot: what the names tell by the pattern of
the set-up, what the set-up gives for all, and empty cells for the rest, to be
filled in. What the capture itself shows stands beside it in columns that start
with #, which reading the list passes over: a plan is not what was measured. With
--json stdout has an object a shot in place of the list.`,
		Example: `  slewbook list captures/ --setup bench.toml --out shot-list.csv
  slewbook measure captures/ --setup bench.toml --shots shot-list.csv --out results`,
		Args: cobra.MinimumNArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			shots, err := draft(args, setup, cmd.ErrOrStderr())
			if err != nil {
				return err
			}
			rows := [][]string{append(campaign.Header(), "# v_bus measured", "# i_load measured", "# doubt")}
			for _, s := range shots {
				rows = append(rows, append(campaign.Row(s), seen(s)...))
				if s.Err != nil { // the list is written all the same, with the reasons in it
					err = errShots
				}
			}
			if asJSON {
				err = errors.Join(listJSON(cmd.OutOrStdout(), shots), err)
			}
			if out == "" && asJSON {
				return err
			}
			if out == "" {
				return errors.Join(reports.WriteRowsCSV(cmd.OutOrStdout(), rows), err)
			}
			if _, err := os.Lstat(out); !errors.Is(err, fs.ErrNotExist) {
				return fmt.Errorf("%s exists, and a list that was worked on is not overwritten; name another file", out)
			}
			return errors.Join(writeFile(out, func(w io.Writer) error { return reports.WriteRowsCSV(w, rows) }), err)
		},
	}
	cmd.Flags().StringVar(&setup, "setup", "", "set-up `file` of the bench, with the pattern of the names")
	cmd.Flags().BoolVar(&asJSON, "json", false, "write one JSON object a shot on stdout and nothing else there")
	cmd.Flags().StringVar(&out, "out", "", "write the list to this `file`, which must not exist yet")
	return cmd
}

// draft returns the shots under the paths with the conditions that names and set-up
// tell, measured.
func draft(paths []string, setup string, stderr io.Writer) ([]*result.Shot, error) {
	bench, err := loadBench(setup)
	if err != nil {
		return nil, err
	}
	opt, err := bench.options()
	if err != nil {
		return nil, err
	}
	plan, err := bench.plan("")
	if err != nil {
		return nil, err
	}
	sources, err := findSources(paths, bench, stderr)
	if err != nil {
		return nil, err
	}
	var shots []*result.Shot
	work := func(o opened) []measured { return measureSource(o, opt, plan, nil, &overlayFlags{}) }
	err = eachSource(sources, work, func(ms []measured) error {
		for _, m := range ms {
			shots = append(shots, m.shot)
		}
		return nil
	})
	return shots, err
}

// listJSON writes the shots of a draft: what was told of each beforehand, and what its
// capture shows.
func listJSON(w io.Writer, shots []*result.Shot) error {
	for _, s := range shots {
		conditions, units, measured := result.Object{}, result.Object{}, result.Object{}
		for _, c := range s.Conditions {
			var value any = c.Text
			if !math.IsNaN(c.Value) {
				value = c.Value
			}
			conditions = append(conditions, result.Member{Key: c.Key, Value: value})
			if c.Unit != "" {
				units = append(units, result.Member{Key: c.Key, Value: c.Unit})
			}
		}
		for _, key := range []string{"v_bus", "i_load"} {
			value := math.NaN()
			if m := campaign.Measured(s, key); m != nil {
				value = m.Value
			}
			measured = append(measured, result.Member{Key: key, Value: result.Number(value)})
		}
		if err := reports.WriteObject(w, "capture", s.Capture, "files", s.Files, "conditions", conditions, "condition_units", units, "measured", measured, "doubts", doubts(s), "error", errorText(s.Err)); err != nil {
			return err
		}
	}
	return nil
}

// errorText is nil where there is no error.
func errorText(err error) any {
	if err == nil {
		return nil
	}
	return err.Error()
}

// seen is what the capture itself shows: bus voltage, load current, doubts.
func seen(s *result.Shot) []string {
	show := func(key string) string {
		if m := campaign.Measured(s, key); m != nil {
			return unit.Format(m.Value, m.Unit, 4)
		}
		return ""
	}
	told := doubts(s)
	if s.Err != nil {
		told = append([]string{s.Err.Error()}, told...)
	}
	return []string{show("v_bus"), show("i_load"), strings.Join(told, "; ")}
}

// doubts are those about the conditions of a shot.
func doubts(s *result.Shot) []string {
	var out []string
	for _, w := range s.Warnings {
		if w.Code == waveform.ConditionsUnknown || w.Code == waveform.ConditionsConflict {
			out = append(out, w.Text)
		}
	}
	return out
}

package main

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
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
	cmd := &cobra.Command{
		Use:   "list PATH...",
		Short: "Draft the shot list of a folder",
		Long: `list drafts a shot list (CSV), a row a shot: what the names tell by the pattern of
the set-up, what the set-up gives for all, and empty cells for the rest, to be
filled in. What the capture itself shows stands beside it in columns that start
with #, which reading the list passes over: a plan is not what was measured.`,
		Example: `  slewbook list captures/ --setup bench.toml --out shot-list.csv
  slewbook measure captures/ --setup bench.toml --shots shot-list.csv --out results`,
		Args: cobra.MinimumNArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			rows, broken, err := draft(args, setup, cmd.ErrOrStderr())
			if err != nil {
				return err
			}
			if broken { // the list is written all the same, with the reasons in it
				err = errShots
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
	cmd.Flags().StringVar(&out, "out", "", "write the list to this `file`, which must not exist yet")
	return cmd
}

// draft returns the rows of a list of the captures under the paths, and whether some
// could not be measured.
func draft(paths []string, setup string, stderr io.Writer) (rows [][]string, broken bool, err error) {
	bench, err := loadBench(setup)
	if err != nil {
		return nil, false, err
	}
	opt, err := bench.options()
	if err != nil {
		return nil, false, err
	}
	plan, err := bench.plan("")
	if err != nil {
		return nil, false, err
	}
	sources, err := findSources(paths, bench, stderr)
	if err != nil {
		return nil, false, err
	}
	rows = [][]string{append(campaign.Header(), "# v_bus measured", "# i_load measured", "# doubt")}
	work := func(o opened) []measured { return measureSource(o, opt, plan, nil, &overlayFlags{}) }
	err = eachSource(sources, work, func(ms []measured) error {
		for _, m := range ms {
			broken = broken || m.shot.Err != nil
			rows = append(rows, append(campaign.Row(m.shot), seen(m.shot)...))
		}
		return nil
	})
	return rows, broken, err
}

// seen is what the capture itself shows: bus voltage, load current, doubts.
func seen(s *result.Shot) []string {
	show := func(key string) string {
		if m := campaign.Measured(s, key); m != nil {
			return unit.Format(m.Value, m.Unit, 4)
		}
		return ""
	}
	var doubts []string
	if s.Err != nil {
		doubts = append(doubts, s.Err.Error())
	}
	for _, w := range s.Warnings {
		if w.Code == waveform.ConditionsUnknown || w.Code == waveform.ConditionsConflict {
			doubts = append(doubts, w.Text)
		}
	}
	return []string{show("v_bus"), show("i_load"), strings.Join(doubts, "; ")}
}

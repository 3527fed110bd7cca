package main

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"os"

	"github.com/spf13/cobra"

	"slewbook/dpt/curve"
	"slewbook/dpt/limits"
	"slewbook/dpt/result"
	"slewbook/reports"
	"slewbook/waveform/unit"
)

// errRefused ends a run that refused or did not pass something; what it printed
// says what.
var errRefused = errors.New("not all was accepted; see the table")

func newJudgeCmd() *cobra.Command {
	var asJSON bool
	var file string
	cmd := &cobra.Command{
		Use:   "judge RESULT... --limits FILE",
		Short: "Pass, fail or cannot tell, for each shot against a limits file",
		Long: `judge holds the quantities of each shot against limits. A value passes or fails
if it does so by at least the guard band (two standard uncertainties if the file
does not say otherwise); inside the band, or where a value or its uncertainty is
missing, the verdict is "cannot tell". Of each device the last good shot before
its first failure is marked.

Exit status, for a production line: 0 every shot passes; 1 one fails or cannot be
told; 2 the run could not be done.`,
		Example: "  slewbook judge results --limits limits.toml",
		Args:    cobra.MinimumNArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			text, err := os.ReadFile(file)
			if err != nil {
				return fmt.Errorf("--limits: %w", err)
			}
			lim, err := limits.Parse(file, text)
			if err != nil {
				return err
			}
			judged := lim.Judge(func(yield func(*result.Shot) bool) {
				err = eachResult(args, func(s *result.Shot) { yield(s) })
			})
			if err != nil {
				return err
			}
			out := bufio.NewWriter(cmd.OutOrStdout())
			if asJSON {
				err = judgeJSON(out, judged)
			} else {
				err = judgeText(out, judged, textOptions(cmd.OutOrStdout()))
			}
			if err := errors.Join(err, out.Flush()); err != nil {
				return err
			}
			for _, s := range judged {
				if s.Verdict != limits.Pass {
					return errRefused
				}
			}
			return nil
		},
	}
	cmd.Flags().BoolVar(&asJSON, "json", false, "write one JSON object a shot on stdout and nothing else there")
	cmd.Flags().StringVar(&file, "limits", "", "limits `file` (TOML)")
	cmd.MarkFlagRequired("limits")
	return cmd
}

func judgeText(w io.Writer, shots []limits.Shot, opt reports.TextOptions) error {
	rows := [][]string{{"capture", "verdict", "quantity", "value", "U (k = 2)", "min", "max", "why"}}
	counts := map[limits.Verdict]int{}
	for _, s := range shots {
		counts[s.Verdict]++
		why := s.Error
		if s.Before != "" {
			why = "passed, and the last before " + s.Before + " failed: keep it"
		}
		rows = append(rows, []string{s.Capture, string(s.Verdict), "", "", "", "", "", why})
		for _, j := range s.Judgements {
			if j.Verdict != limits.Pass {
				rows = append(rows, []string{"", string(j.Verdict), j.Key, reports.Num(j.Value, j.U, j.Unit), unit.Format(2*j.U, j.Unit, 2), reports.Num(j.Min, 0, j.Unit), reports.Num(j.Max, 0, j.Unit), j.Why})
			}
		}
	}
	if err := (reports.Table{Rows: rows, Keys: 3, Words: reports.AllWords}).Write(w, opt); err != nil {
		return err
	}
	_, err := fmt.Fprintf(w, "%d pass, %d fail, %d cannot tell\n", counts[limits.Pass], counts[limits.Fail], counts[limits.CannotTell])
	return err
}

func judgeJSON(w io.Writer, shots []limits.Shot) error {
	for _, s := range shots {
		items := make([]any, 0, len(s.Judgements))
		for _, j := range s.Judgements {
			items = append(items, reports.Object("key", j.Key, "unit", j.Unit, "value", j.Value, "u", j.U, "min", j.Min, "max", j.Max, "verdict", string(j.Verdict), "why", j.Why))
		}
		if err := reports.WriteObject(w, "capture", s.Capture, "device", s.Device, "verdict", string(s.Verdict), "last_before", s.Before, "error", s.Error, "quantities", items); err != nil {
			return err
		}
	}
	return nil
}

func newRepeatCmd() *cobra.Command {
	var asJSON bool
	var by string
	var keys []string
	cmd := &cobra.Command{
		Use:   "repeat RESULT... --by CONDITION",
		Short: "Split the spread of repeats into repeatability and reproducibility",
		Long: `repeat takes repeated shots at like conditions and splits their spread by the
levels of a stated condition (seat, site, operator, day): s_r within a level, s_L
between levels, s_R = sqrt(s_r^2 + s_L^2), by a one-way analysis of variance.

The uncertainty of the mean follows, with what averaging reduces (type A, from the
scatter) apart from what all shots share and no number of them reduces (gains,
delay), as the budgets of the shots tell it.`,
		Example: "  slewbook repeat results --by seat --quantity e_on,e_off",
		Args:    cobra.MinimumNArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			shots, err := readResults(args)
			if err != nil {
				return err
			}
			if err := checkCondition(shots, by); err != nil {
				return err
			}
			all := len(keys) == 0
			if all {
				keys = curve.Keys(shots)
			} else if err := checkKeys(shots, keys); err != nil {
				return err
			}
			for _, text := range curve.Copies(shots) {
				tell(cmd.ErrOrStderr(), "%s", text)
			}
			out := bufio.NewWriter(cmd.OutOrStdout())
			rows := [][]string{{"quantity", "conditions", "shots", "levels", "mean", "s_r", "s_L", "s_R", "F", "u of mean", "from scatter", "shared", ""}}
			for _, key := range keys {
				s, err := curve.Collect(shots, key)
				if err != nil && all {
					tell(cmd.ErrOrStderr(), "left out: %v", err)
					continue
				}
				if err != nil {
					return err
				}
				for _, r := range s.Study(shots, by) {
					if asJSON {
						if err := reports.WriteObject(out, "key", r.Key, "unit", r.Unit, "conditions", r.Where, "n", r.N, "levels", r.Levels, "mean", r.Of.Mean, "s_repeatability", r.Repeat, "s_between", r.Between, "s_reproducibility", r.Reproduce, "f", r.F, "u_mean", r.Of.U, "u_type_a", r.Of.TypeA, "u_within", r.Of.Within, "u_shared", r.Of.Common, "why", r.Why); err != nil {
							return err
						}
						continue
					}
					show := func(x float64) string { return reports.Num(x, x/10, r.Unit) }
					rows = append(rows, []string{r.Key, r.Where, fmt.Sprint(r.N), fmt.Sprint(len(r.Levels)), reports.Num(r.Of.Mean, r.Of.U, r.Unit), show(r.Repeat), show(r.Between), show(r.Reproduce), reports.Num(r.F, r.F/10, "1"), show(r.Of.U), show(r.Of.TypeA), show(r.Of.Common), r.Why})
				}
			}
			if !asJSON {
				if err := (reports.Table{Rows: rows, Keys: 2, Words: reports.AllWords}).Write(out, textOptions(cmd.OutOrStdout())); err != nil {
					return err
				}
			}
			return out.Flush()
		},
	}
	cmd.Flags().BoolVar(&asJSON, "json", false, "write one JSON object a quantity on stdout and nothing else there")
	cmd.Flags().StringVar(&by, "by", "", "`condition` whose levels are compared, such as seat or site")
	cmd.Flags().StringSliceVar(&keys, "quantity", nil, "`keys` of the quantities (all if not given)")
	cmd.MarkFlagRequired("by")
	return cmd
}

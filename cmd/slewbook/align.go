package main

import (
	"bufio"
	"errors"

	"github.com/spf13/cobra"

	"slewbook/dpt"
	"slewbook/dpt/result"
	"slewbook/reports"
)

func newAlignCmd() *cobra.Command {
	var flags benchFlags
	cmd := &cobra.Command{
		Use:   "align PATH...",
		Short: "Estimate the channel delays and the loop inductance from the captures themselves",
		Long: `align asks for each capture at which delay of the current channel voltage and
current obey the equation of the commutation loop: finely from the ringing after
the turn-off, without doubt about its period from the rise of the current at the
turn-on. It reports the delay with its uncertainty, or why it cannot be told, and
the loop inductance outside the sense points; then all shots together, which must
have been taken with the same probes. Nothing is moved: see measure --align apply.`,
		Example: "  slewbook align captures/",
		Args:    cobra.MinimumNArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			opt, err := loadOptions(flags.setup)
			if err != nil {
				return err
			}
			sources, err := findSources(args, cmd.ErrOrStderr())
			if err != nil {
				return err
			}
			out := bufio.NewWriter(cmd.OutOrStdout())
			var shots []result.Alignment
			failed := false
			work := func(o opened) []measured { return measureSource(o, opt, nil) }
			done := func(ms []measured) error {
				for _, m := range ms {
					a := dpt.AlignmentOf(m.shot)
					shots = append(shots, a)
					failed = failed || a.Err != nil
					if flags.json {
						if err := errors.Join(reports.WriteAlignJSON(out, &a), out.Flush()); err != nil {
							return err
						}
					}
				}
				return nil
			}
			if err := eachSource(sources, work, done); err != nil {
				return err
			}
			if err := errors.Join(writeCampaign(out, shots, flags.json, textOptions(cmd.OutOrStdout())), out.Flush()); err != nil {
				return err
			}
			if failed {
				return errShots
			}
			return nil
		},
	}
	flags.add(cmd)
	return cmd
}

func writeCampaign(out *bufio.Writer, shots []result.Alignment, asJSON bool, opt reports.TextOptions) error {
	all := dpt.Combine(shots)
	if asJSON {
		return reports.WriteAlignJSON(out, &all)
	}
	list := make([]*result.Alignment, len(shots))
	for k := range shots {
		list[k] = &shots[k]
	}
	return reports.WriteAlignText(out, list, &all, opt)
}

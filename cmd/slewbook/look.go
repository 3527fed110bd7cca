package main

import (
	"bufio"
	"errors"

	"github.com/spf13/cobra"

	"slewbook/dpt"
	"slewbook/dpt/result"
	"slewbook/reports"
)

func newLookCmd() *cobra.Command {
	var flags benchFlags
	cmd := &cobra.Command{
		Use:   "look PATH...",
		Short: "Say what each capture holds, and measure nothing",
		Long: `look says for every capture under each PATH: the layout recognised, the channels,
the role given to each with how that was decided and how sure it is, the
sampling, what is over range, and what raises doubts.`,
		Example: "  slewbook look captures/\n  slewbook look captures/ --setup bench.toml --json",
		Args:    cobra.MinimumNArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			opt, sources, err := flags.open(args, cmd.ErrOrStderr())
			if err != nil {
				return err
			}
			out := bufio.NewWriter(cmd.OutOrStdout())
			var all []*result.Look
			failed := false
			done := func(looks []*result.Look) error {
				for _, l := range looks {
					failed = failed || l.Err != nil
					if flags.json {
						if err := errors.Join(reports.WriteLookJSON(out, l), out.Flush()); err != nil {
							return err
						}
					}
				}
				all = append(all, looks...)
				return nil
			}
			if err := eachSource(sources, func(o opened) []*result.Look { return lookAt(o, opt) }, done); err != nil {
				return err
			}
			if !flags.json {
				if err := errors.Join(reports.WriteLookText(out, all, textOptions(cmd.OutOrStdout())), out.Flush()); err != nil {
					return err
				}
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

func lookAt(o opened, opt dpt.Options) []*result.Look {
	if o.err != nil {
		return []*result.Look{{Capture: o.source.Name, Files: o.source.Files, Err: o.err}}
	}
	var looks []*result.Look
	for _, c := range o.captures {
		l := dpt.Look(c, opt)
		l.Grouping = o.source.Grouping()
		looks = append(looks, &l)
	}
	return looks
}

package main

import (
	"bufio"
	"errors"

	"github.com/spf13/cobra"

	"slewbook/dpt"
	"slewbook/dpt/campaign"
	"slewbook/dpt/result"
	"slewbook/reports"
)

func newAlignCmd() *cobra.Command {
	var flags benchFlags
	var calibration string
	cmd := &cobra.Command{
		Use:   "align PATH...",
		Short: "Estimate the channel delays and the loop inductance from the captures themselves",
		Long: `align asks for each capture at which delay of the current channel voltage and
current obey the equation of the commutation loop: finely from the ringing after
the turn-off, without doubt about its period from the rise of the current at the
turn-on. It reports the delay with its uncertainty, or why it cannot be told, and
the loop inductance outside the sense points; then all shots together, which must
have been taken with the same probes. Nothing is moved: see measure --align apply.

With --calibration the captures are no shots but show both channels on one common
edge: same-edge, or a resistor as load, whose current rises as the voltage falls.`,
		Example: "  slewbook align captures/\n  slewbook align --calibration same-edge fixture.csv",
		Args:    cobra.MinimumNArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			opt, sources, err := flags.open(args, cmd.ErrOrStderr())
			if err != nil {
				return err
			}
			out := bufio.NewWriter(cmd.OutOrStdout())
			var shots []result.Alignment
			failed := false
			work := func(o opened) []result.Alignment { return alignSource(o, opt) }
			if calibration != "" {
				kind := dpt.Calibration(calibration)
				if err := kind.Validate(); err != nil {
					return err
				}
				work = func(o opened) []result.Alignment { return calibrateSource(o, opt, kind) }
			}
			done := func(as []result.Alignment) error {
				for _, a := range as {
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
	cmd.Flags().StringVar(&calibration, "calibration", "", "the captures show a common edge: same-edge or resistor")
	return cmd
}

func alignSource(o opened, opt dpt.Options) []result.Alignment {
	var as []result.Alignment
	for _, m := range measureSource(o, opt, campaign.Plan{}, nil, &overlayFlags{}) {
		as = append(as, dpt.AlignmentOf(m.shot))
	}
	return as
}

func calibrateSource(o opened, opt dpt.Options, kind dpt.Calibration) []result.Alignment {
	if o.err != nil {
		return []result.Alignment{{Capture: o.source.Name, Err: o.err}}
	}
	var as []result.Alignment
	for _, c := range o.captures {
		as = append(as, dpt.Calibrate(c, opt, kind))
	}
	return as
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

package main

import (
	"errors"
	"fmt"
	"io"

	"github.com/spf13/cobra"

	"slewbook/dpt/campaign"
	"slewbook/dpt/limits"
	"slewbook/dpt/result"
	"slewbook/reports"
)

func newMergeCmd() *cobra.Command {
	var setup, list, out string
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "merge RESULT... --out DIR",
		Short: "Put the results of several runs together",
		Long: `merge puts result folders of measure --out together, such as those of the shards of
a campaign, and writes the same files as one run over all of it. A capture that was
measured twice under the same settings appears once: content and settings decide,
not names. Merging again changes nothing.

With the shot list the matrix tells what is missing, with the set-up the margins to its
ratings.`,
		Example: `  slewbook measure captures/ --shard 1/2 --out part-1
  slewbook measure captures/ --shard 2/2 --out part-2
  slewbook merge part-1 part-2 --out results`,
		Args: cobra.MinimumNArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			if out == "" {
				return errors.New("--out is missing: name the folder to write to")
			}
			bench, err := loadBench(setup)
			if err != nil {
				return err
			}
			matrix, err := bench.matrix(list)
			if err != nil {
				return err
			}
			return merge(args, out, matrix, bench.margins(), asJSON, cmd.OutOrStdout(), cmd.ErrOrStderr())
		},
	}
	cmd.Flags().BoolVar(&asJSON, "json", false, "write one JSON object on stdout: the folder, how many shots, how many of them not measured")
	cmd.Flags().StringVar(&out, "out", "", "write the merged results to this `folder`")
	cmd.Flags().StringVar(&setup, "setup", "", "set-up `file` of the bench, for the matrix and the margins to its ratings")
	cmd.Flags().StringVar(&list, "shots", "", "shot list `file` (CSV), for the matrix")
	return cmd
}

func merge(dirs []string, out string, matrix *campaign.Matrix, margins *limits.Margins, asJSON bool, stdout, stderr io.Writer) error {
	folder, err := reports.NewFolder(out, reports.DefaultFolder())
	if err != nil {
		return err
	}
	defer folder.Abort()
	shots, failed := 0, 0
	notes, err := reports.Merge(folder, dirs, func(s *result.Shot) {
		shots++
		if s.Err != nil {
			failed++
		}
		matrix.Add(s)
		margins.Add(s)
	})
	if err != nil {
		return err
	}
	for _, note := range notes {
		tell(stderr, "%v", note)
	}
	table, rated := matrix.Table(), margins.Table()
	if err := errors.Join(folder.AddMatrix(table), folder.AddMargins(rated), addReport(folder, table, rated, stderr), folder.Close()); err != nil {
		return err
	}
	if asJSON {
		err = reports.WriteObject(stdout, "out", out, "results", len(dirs), "shots", shots, "failed", failed)
	} else {
		fmt.Fprintf(stdout, "%d shots of %d results in %s, %d of them not measured\n", shots, len(dirs), out, failed)
		text := textOptions(stdout)
		err = errors.Join(reports.WriteMatrixText(stdout, table, text), reports.WriteMarginsText(stdout, rated, text))
	}
	if err != nil {
		return err
	}
	if failed > 0 {
		return errShots
	}
	return nil
}

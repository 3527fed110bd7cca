package main

import (
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"slewbook/reports"
	"slewbook/waveform"
	"slewbook/waveform/format"
)

// converters are the clean forms that captures can be written in.
var converters = map[string]func(io.Writer, *waveform.Capture) error{
	"csv":     format.WriteCSV,
	"npz":     format.WriteNpz,
	"parquet": format.WriteParquet,
}

func newConvertCmd() *cobra.Command {
	var setup, to, out string
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "convert PATH...",
		Short: "Write captures in a clean form: CSV, NumPy archive or Parquet",
		Long: `convert reads every capture under each PATH and writes it as one file in a clean
form: SI units, the sample interval stated. The samples are those of the file to
the last bit; over-range ones stay over range. Channels on time axes of their own
keep them; a Parquet table has room for one. Nothing of the set-up but [file] is
applied: no scale, no sign, no delay.`,
		Example: "  slewbook convert captures/ --to npz --out clean",
		Args:    cobra.MinimumNArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			write, ok := converters[to]
			if !ok {
				return fmt.Errorf("--to %s: expected csv, npz or parquet", to)
			}
			if out == "" {
				return fmt.Errorf("--out is missing: name the folder to write to")
			}
			bench, err := loadBench(setup)
			if err != nil {
				return err
			}
			sources, err := findSources(args, bench, cmd.ErrOrStderr())
			if err != nil {
				return err
			}
			failed := false
			err = eachSource(sources, func(o opened) []converted { return convertSource(o, write, to, out) }, func(all []converted) error {
				for _, c := range all {
					if c.err != nil {
						failed = true
						tell(cmd.ErrOrStderr(), "%v", c.err)
					}
					if !asJSON {
						continue
					}
					if err := reports.WriteObject(cmd.OutOrStdout(), "capture", c.capture, "file", c.file, "error", errorText(c.err)); err != nil {
						return err
					}
				}
				return nil
			})
			if err == nil && failed {
				err = errShots
			}
			return err
		},
	}
	cmd.Flags().StringVar(&setup, "setup", "", "set-up `file` of the bench; only its [file] is used")
	cmd.Flags().StringVar(&to, "to", "csv", "`form` to write: csv, npz or parquet")
	cmd.Flags().BoolVar(&asJSON, "json", false, "write one JSON object a capture on stdout: the file that it is in now, or why it is in none")
	cmd.Flags().StringVar(&out, "out", "", "`folder` to write to")
	return cmd
}

// converted is what became of a capture.
type converted struct {
	capture, file string
	err           error
}

// convertSource writes the captures of one source. A file that is there already
// is never written over.
func convertSource(o opened, write func(io.Writer, *waveform.Capture) error, ext, out string) []converted {
	if o.err != nil {
		return []converted{{capture: o.source.Name, err: o.err}}
	}
	var all []converted
	for _, c := range o.captures {
		name := filepath.Join(out, filepath.FromSlash(strings.TrimLeft(c.Name, "./"))+"."+ext)
		if _, err := os.Lstat(name); err == nil {
			all = append(all, converted{capture: c.Name, err: fmt.Errorf("%s exists; name another folder", name)})
		} else if err := writeFile(name, func(w io.Writer) error { return write(w, c) }); err != nil {
			all = append(all, converted{capture: c.Name, err: fmt.Errorf("%s: %w", c.Name, err)})
		} else {
			all = append(all, converted{capture: c.Name, file: name})
		}
	}
	return all
}

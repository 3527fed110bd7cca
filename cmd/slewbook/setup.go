package main

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"

	"github.com/spf13/cobra"

	"slewbook/dpt/setup"
)

func newSetupCmd() *cobra.Command {
	return &cobra.Command{
		Use:   "setup [FILE]",
		Short: "Write a commented template of a set-up file",
		Long: `setup writes a template of the bench's set-up file to stdout, or to FILE, which
must not exist yet.`,
		Example: "  slewbook setup bench.toml",
		Args:    cobra.MaximumNArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			if len(args) == 0 {
				_, err := cmd.OutOrStdout().Write(setup.Template())
				return err
			}
			if _, err := os.Lstat(args[0]); !errors.Is(err, fs.ErrNotExist) {
				return fmt.Errorf("%s exists; give a name that is free", args[0])
			}
			if _, err := os.Stat(filepath.Dir(args[0])); err != nil {
				return fmt.Errorf("%s: the folder for it does not exist", args[0])
			}
			return writeFile(args[0], func(w io.Writer) error {
				_, err := w.Write(setup.Template())
				return err
			})
		},
	}
}

package main

import (
	"io"
	"path/filepath"
	"strings"
	"time"

	"github.com/spf13/cobra"
	"github.com/spf13/cobra/doc"
)

func newManualCmd() *cobra.Command {
	return &cobra.Command{
		Use:   "manual DIR",
		Short: "Write the manual pages of all commands",
		Long: `manual writes a manual page (section 1) for slewbook and for each of its commands
to DIR, for man(1) and for who packs slewbook.`,
		Example: `  slewbook manual man/man1
  MANPATH=man man slewbook-measure`,
		Args: cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error { return writeManual(cmd.Root(), args[0]) },
	}
}

// writeManual writes the page of a command and those below it. The pages carry the
// date of the revision, not of the day they are written on.
func writeManual(cmd *cobra.Command, dir string) error {
	if cmd.Hidden || cmd.Name() == "help" {
		return nil
	}
	build := readBuild()
	date, err := time.Parse(time.RFC3339, build.Time)
	if err != nil {
		date = time.Unix(0, 0).UTC()
	}
	head := &doc.GenManHeader{Section: "1", Source: "slewbook " + build.Version, Manual: "slewbook", Date: &date}
	name := strings.ReplaceAll(cmd.CommandPath(), " ", "-") + ".1"
	cmd.DisableAutoGenTag = true
	if err := writeFile(filepath.Join(dir, name), func(w io.Writer) error { return doc.GenMan(cmd, head, w) }); err != nil {
		return err
	}
	for _, child := range cmd.Commands() {
		if err := writeManual(child, dir); err != nil {
			return err
		}
	}
	return nil
}

package main

import (
	"errors"
	"fmt"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"slewbook/reports"
)

// figureFlags say where files go and how figures are drawn.
type figureFlags struct {
	dir     string // "" for none
	figures reports.FolderOptions

	style   string
	formats []string
}

func (o *figureFlags) add(cmd *cobra.Command) {
	o.figures = reports.DefaultFolder()
	var styles []string
	for _, s := range reports.Styles() {
		styles = append(styles, s.Name)
	}
	cmd.Flags().StringVar(&o.dir, "out", "", "write result files and figures to this `folder`")
	cmd.Flags().StringVar(&o.style, "style", o.figures.Style.Name, "`name` of the page that figures are for: "+strings.Join(styles, ", "))
	cmd.Flags().StringSliceVar(&o.formats, "figure-format", o.figures.Formats, "`formats` of figures, with commas: "+strings.Join(reports.Formats(), ", "))
}

// parse checks the flags.
func (o *figureFlags) parse() error {
	style, err := reports.FindStyle(o.style)
	if err != nil {
		return fmt.Errorf("--style: %w", err)
	}
	o.figures.Style = style
	o.figures.Formats = slices.Compact(slices.Sorted(slices.Values(o.formats)))
	if len(o.figures.Formats) == 0 {
		return errors.New("--figure-format: expected at least one of " + strings.Join(reports.Formats(), ", "))
	}
	if err := o.figures.Validate(); err != nil {
		return fmt.Errorf("--figure-format: %w", err)
	}
	return nil
}

// write writes a figure in all formats, and its numbers, to a slash path below the
// folder, without extension.
func (o *figureFlags) write(path string, figure *reports.Figure) error {
	path = filepath.Join(o.dir, filepath.FromSlash(path))
	if err := figure.WriteAll(path, o.figures.Formats, writeFile); err != nil {
		return err
	}
	return writeFile(path+".csv", figure.WriteCSV)
}

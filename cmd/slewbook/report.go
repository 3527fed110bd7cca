package main

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"slewbook/dpt/curve"
	"slewbook/dpt/result"
	"slewbook/reports"
	"slewbook/reports/viewer"
)

// reportFlags shape a report.
type reportFlags struct {
	title string
	limit float64  // MB of waveforms
	first []string // captures
}

func (f *reportFlags) add(cmd *cobra.Command) {
	cmd.Flags().StringVar(&f.title, "title", "Double-pulse campaign", "title of the report")
	cmd.Flags().Float64Var(&f.limit, "waveforms", 30, "largest size of the waveforms in the report, in `MB`; 0 leaves them out")
	cmd.Flags().StringSliceVar(&f.first, "capture", nil, "`names` of shots whose waveforms come first where not all fit")
}

func newReportCmd() *cobra.Command {
	var f reportFlags
	var out, list, setup string
	cmd := &cobra.Command{
		Use:   "report RESULT... --out FILE",
		Short: "Write results as one HTML file to open, zoom, check and hand on",
		Long: `report writes one HTML file from result folders of measure: a summary, the matrix,
curves, the table of the shots, and their waveforms, to be zoomed and measured in
any browser without a network. It needs no other file. Tables and curves show
without a script as well.`,
		Example: `  slewbook report results --out report.html
  slewbook report results --out report.html --waveforms 5 --capture bus-800V/i-100A`,
		Args: cobra.MinimumNArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			bench, err := loadBench(setup)
			if err != nil {
				return err
			}
			matrix, err := bench.matrix(list)
			if err != nil {
				return err
			}
			shots, err := readResults(args)
			if err != nil {
				return err
			}
			for _, s := range shots {
				matrix.Add(s)
			}
			return f.write(out, args, shots, matrix.Table(), cmd.ErrOrStderr())
		},
	}
	f.add(cmd)
	cmd.Flags().StringVar(&out, "out", "", "`file` of the report")
	cmd.Flags().StringVar(&list, "shots", "", "shot list `file`, which tells what was planned")
	cmd.Flags().StringVar(&setup, "setup", "", "set-up `file` that the shots were measured with, for what the list leaves out")
	cmd.MarkFlagRequired("out")
	return cmd
}

// write writes the report of shots from those result folders.
func (f *reportFlags) write(path string, folders []string, shots []*result.Shot, matrix result.Matrix, stderr io.Writer) error {
	if !(f.limit >= 0) {
		return fmt.Errorf("--waveforms %g: expected MB from 0", f.limit)
	}
	r := viewer.Report{Title: f.title, Version: readBuild().String(), Shots: shots, Matrix: matrix, Limit: int(f.limit * 1e6), First: f.first}
	if book, err := curve.NewBook(shots, curve.BookOptions{Options: curve.Defaults()}); err != nil {
		r.Notes = append(r.Notes, "No curves: "+err.Error())
	} else {
		r.Charts, r.Notes = reportCharts(book), book.Notes
	}
	r.Waveforms = func(s *result.Shot) (*reports.Waveforms, error) {
		for _, dir := range folders {
			name, ok := s.Capture, true
			if len(folders) > 1 { // readResults leads the names by their folders
				name, ok = strings.CutPrefix(name, filepath.ToSlash(filepath.Base(dir))+"/")
			}
			if !ok {
				continue
			}
			w, err := reports.ReadWaveforms(dir, name)
			if errors.Is(err, fs.ErrNotExist) {
				continue
			}
			if err == nil {
				w.Capture = s.Capture
			}
			return w, err
		}
		return nil, nil
	}
	embedded := 0
	err := writeFile(filepath.Clean(path), func(w io.Writer) error {
		n, err := viewer.Write(w, r)
		embedded = n
		return err
	})
	if err == nil {
		fmt.Fprintf(stderr, "slewbook: %s: %d shots, %d of them with their waveforms\n", path, len(shots), embedded)
	}
	return err
}

// reportCharts picks the charts over current, and over what else varies where
// there is none over current: a page of every chart hides the ones that matter.
func reportCharts(book *curve.Book) []*result.Chart {
	const most = 12
	charts := book.PageCharts()
	return charts[:min(len(charts), most)]
}

package main

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"runtime/debug"
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

// defaultReport is the report that a run writes.
func defaultReport() *reportFlags { return &reportFlags{title: "Double-pulse campaign", limit: 30} }

func (f *reportFlags) add(cmd *cobra.Command) {
	cmd.Flags().StringVar(&f.title, "title", f.title, "title of the report")
	cmd.Flags().Float64Var(&f.limit, "waveforms", f.limit, "largest size of the waveforms in the report, in `MB`; 0 leaves them out")
	cmd.Flags().StringSliceVar(&f.first, "capture", nil, "`names` of shots whose waveforms come first where not all fit")
}

func newReportCmd() *cobra.Command {
	f := defaultReport()
	var out, list, setup string
	var asJSON bool
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
			if err := ownReport(out); err != nil {
				return err
			}
			bench, err := loadBench(setup)
			if err != nil {
				return err
			}
			matrix, err := bench.matrix(list)
			if err != nil {
				return err
			}
			margins := bench.margins()
			var shots []*result.Shot
			keep := lean()
			err = eachResult(args, func(s *result.Shot) {
				matrix.Add(s)
				margins.Add(s)
				shots = append(shots, keep(s))
			})
			if err != nil {
				return err
			}
			embedded, err := f.write(out, args, f.page(shots, matrix.Table(), margins.Table()))
			switch {
			case err != nil:
				return err
			case asJSON:
				return reports.WriteObject(cmd.OutOrStdout(), "out", out, "shots", len(shots), "waveforms", embedded)
			}
			tell(cmd.ErrOrStderr(), "%s: %d shots, %d of them with their waveforms", out, len(shots), embedded)
			return nil
		},
	}
	f.add(cmd)
	cmd.Flags().BoolVar(&asJSON, "json", false, "write one JSON object on stdout: the file, how many shots, how many of them with their waveforms")
	cmd.Flags().StringVar(&out, "out", "", "`file` of the report")
	cmd.Flags().StringVar(&list, "shots", "", "shot list `file`, which tells what was planned")
	cmd.Flags().StringVar(&setup, "setup", "", "set-up `file` that the shots were measured with, for its ratings and for what the list leaves out")
	cmd.MarkFlagRequired("out")
	return cmd
}

// page is the report of shots, without their waveforms.
func (f *reportFlags) page(shots []*result.Shot, matrix result.Matrix, margins []result.Margin) viewer.Report {
	r := viewer.Report{Title: f.title, Version: readBuild().String(), Shots: shots, Matrix: matrix, Margins: margins, Limit: int(f.limit * 1e6), First: f.first}
	if book, err := curve.NewBook(shots, curve.BookOptions{Options: curve.Defaults()}); err != nil {
		r.Notes = append(r.Notes, "No curves: "+err.Error())
	} else {
		r.Charts, r.Notes = reportCharts(book), append(book.Notes, book.Lacks...)
	}
	return r
}

// write writes a report with the waveforms in those result folders, and tells how many
// shots have theirs in it.
func (f *reportFlags) write(path string, folders []string, r viewer.Report) (embedded int, err error) {
	if !(f.limit >= 0) {
		return 0, fmt.Errorf("--waveforms %g: expected MB from 0", f.limit)
	}
	r.Waveforms = func(s *result.Shot) ([]byte, error) {
		for _, dir := range folders {
			name, ok := s.Capture, true
			if len(folders) > 1 { // readResults leads the names by their folders
				name, ok = strings.CutPrefix(name, filepath.ToSlash(filepath.Base(dir))+"/")
			}
			if !ok {
				continue
			}
			text, err := reports.ReadWaveforms(dir, name, s.Capture)
			if errors.Is(err, fs.ErrNotExist) {
				continue
			}
			return text, err
		}
		return nil, nil
	}
	err = writeFile(filepath.Clean(path), func(w io.Writer) (err error) {
		embedded, err = viewer.Write(w, r)
		return err
	})
	return embedded, err
}

// ownReport refuses a file that is there and is no report of ours: it may be a capture,
// or the results that are read.
func ownReport(path string) error {
	f, err := os.Open(path)
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if err != nil {
		return err
	}
	defer f.Close()
	head := make([]byte, len(viewer.Mark()))
	if _, err := io.ReadFull(f, head); err != nil || string(head) != viewer.Mark() {
		return fmt.Errorf("%s is there and is no report of slewbook; expected a name that is not taken, or a report to replace", path)
	}
	return nil
}

// reportShots is how many shots a run may have for a report to be written with it:
// all of them are in memory meanwhile, and a browser must hold the page.
const reportShots = 2000

// lean returns a function that leaves of a shot what page and viewer read of it, with
// each text in memory once.
func lean() func(*result.Shot) *result.Shot {
	texts := map[string]string{}
	once := func(text *string) {
		if known, ok := texts[*text]; ok {
			*text = known
		} else {
			texts[*text] = *text
		}
	}
	return func(s *result.Shot) *result.Shot {
		out := &result.Shot{Capture: s.Capture, Files: s.Files, SHA256: s.SHA256, Assumed: s.Assumed, Channels: s.Channels, Conditions: s.Conditions, Version: s.Version, Settings: s.Settings, Bench: s.Bench,
			Events: s.Events, Corrections: s.Corrections, Warnings: s.Warnings, Err: s.Err,
			Quantities: make([]result.Measurement, 0, len(s.Quantities))}
		for _, text := range []*string{&out.Version, &out.Settings, &out.Bench} {
			once(text)
		}
		for k := range out.Conditions {
			once(&out.Conditions[k].Key)
			once(&out.Conditions[k].Text)
			once(&out.Conditions[k].Unit)
		}
		for k := range out.Events {
			once(&out.Events[k].Basis)
		}
		for k := range out.Channels {
			once(&out.Channels[k].Trace)
		}
		for k := range out.Assumed {
			once(&out.Assumed[k])
		}
		for k := range out.Corrections {
			out.Corrections[k].Text = ""
		}
		for _, m := range s.Quantities {
			drawn := curve.InBook(m.Key)
			column, _ := result.FindColumn(m.Key)
			if math.IsNaN(m.Value) && !drawn && !column.Text {
				continue
			}
			few := result.Measurement{Key: m.Key, Unit: m.Unit, Value: m.Value, U: m.U, Over: m.Over, Definition: m.Definition, Dominant: m.Dominant}
			once(&few.Key)
			once(&few.Unit)
			once(&few.Definition)
			once(&few.Dominant)
			if drawn || column.Text {
				few.Warnings = m.Warnings
			}
			if drawn {
				few.Budget = m.Budget
				for k := range few.Budget {
					once(&few.Budget[k].Source)
					once(&few.Budget[k].Unit)
				}
			}
			out.Quantities = append(out.Quantities, few)
		}
		return out
	}
}

// addReport writes the report into a result folder that is about to be closed.
func addReport(folder *reports.Folder, matrix result.Matrix, margins []result.Margin, stderr io.Writer) error {
	if folder.Len() > reportShots {
		tell(stderr, "no report.html of %d shots, which are more than %d; slewbook report writes one from results of fewer", folder.Len(), reportShots)
		return nil
	}
	// The shots stay in memory while text by the megabyte passes: without this the heap
	// grows to twice both, beyond what measuring takes.
	defer debug.SetGCPercent(debug.SetGCPercent(60))
	var shots []*result.Shot
	keep := lean()
	if err := folder.WriteTables(func(s *result.Shot) { shots = append(shots, keep(s)) }); err != nil {
		return err
	}
	r := defaultReport().page(shots, matrix, margins)
	for _, s := range shots {
		for k := range s.Quantities {
			s.Quantities[k].Budget = nil // the curves have read them
		}
	}
	r.Waveforms = func(s *result.Shot) ([]byte, error) {
		text, err := folder.Waveforms(s.Capture)
		if errors.Is(err, fs.ErrNotExist) {
			return nil, nil
		}
		return text, err
	}
	return folder.AddReport(func(w io.Writer) error { _, err := viewer.Write(w, r); return err })
}

// reportCharts picks the charts over current, and over what else varies where
// there is none over current: a page of every chart hides the ones that matter.
func reportCharts(book *curve.Book) []*result.Chart {
	const most = 12
	charts := book.PageCharts()
	return charts[:min(len(charts), most)]
}

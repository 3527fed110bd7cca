package main

import (
	"bufio"
	"cmp"
	"errors"
	"fmt"
	"io"
	"math"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"slewbook/dpt/curve"
	"slewbook/dpt/result"
	"slewbook/reports"
	"slewbook/waveform/unit"
)

type curvesFlags struct {
	json    bool
	out     figureFlags
	keys    []string
	robust  string
	surface string
	by      string
	common  string
	axes    map[curve.Variable]*[]string
	title   string
}

func newCurvesCmd() *cobra.Command {
	f := curvesFlags{axes: map[curve.Variable]*[]string{}}
	cmd := &cobra.Command{
		Use:   "curves RESULT...",
		Short: "Loss curves, fits and hand-over grids from results of measure",
		Long: `curves reads the result folders of measure --out and fits the quantities over
load current, bus voltage, gate resistor and temperature. Points stand at the
measured voltage and current; nothing is drawn or handed over beyond the data.

With --out it writes charts/ (figures, their points as CSV), grids/ (E over I, V,
Tj, Rg as CSV and JSON with its schema), spreads.csv, points.csv, curves.jsonl and a page as
PDF and SVG.`,
		Example: `  slewbook curves results
  slewbook curves results --out curves --grid-i 20,40,60,80,100 --grid-v 400,600,800`,
		Args: cobra.MinimumNArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error { return f.run(args, cmd.OutOrStdout()) },
	}
	cmd.Flags().BoolVar(&f.json, "json", false, "write one JSON object a chart on stdout and nothing else there")
	f.out.add(cmd)
	cmd.Flags().StringSliceVar(&f.keys, "quantity", nil, "`keys` of the quantities (energies, slopes, peaks, delays, recovery, loop)")
	cmd.Flags().StringVar(&f.robust, "robust", string(curve.Huber), "weight of points far from the fit: huber, bisquare or plain")
	cmd.Flags().StringVar(&f.surface, "surface", "polynomial", "current in the surfaces: polynomial (a + bI + cI^2) or power")
	cmd.Flags().StringVar(&f.by, "by", "", "`condition`, such as device, of which each value has lines, surfaces and grids of its own")
	cmd.Flags().StringVar(&f.common, "common", "", "standard `uncertainty` that all shots share, such as \"1 %\" (the smallest of their own if not given)")
	cmd.Flags().StringVar(&f.title, "title", "Switching behaviour", "`title` of the page")
	for _, v := range curve.Variables {
		f.axes[v] = new([]string)
		cmd.Flags().StringSliceVar(f.axes[v], "grid-"+string(v), nil, fmt.Sprintf("`values` of the grid's axis in %s, or with their unit", v.Unit()))
	}
	return cmd
}

// options checks the flags.
func (f *curvesFlags) options() (curve.BookOptions, error) {
	opt := curve.BookOptions{Options: curve.Defaults(), Keys: f.keys, By: f.by, Power: f.surface == "power", Axes: map[curve.Variable][]float64{}}
	if f.surface != "power" && f.surface != "polynomial" {
		return opt, fmt.Errorf("--surface %q: expected polynomial or power", f.surface)
	}
	opt.Robust = curve.Robust(f.robust)
	if f.common != "" {
		x, err := unit.Parse(f.common, "1")
		if err != nil {
			return opt, fmt.Errorf("--common: %w", err)
		}
		opt.Common = x
	}
	for _, v := range curve.Variables {
		for _, text := range *f.axes[v] {
			x, err := number(text, v.Unit())
			if err != nil {
				return opt, fmt.Errorf("--grid-%s: %w", v, err)
			}
			opt.Axes[v] = append(opt.Axes[v], x)
		}
		slices.Sort(opt.Axes[v])
		opt.Axes[v] = slices.Compact(opt.Axes[v])
	}
	return opt, opt.Validate()
}

// number reads a number with or without the unit.
func number(text, base string) (float64, error) {
	if strings.IndexFunc(text, func(r rune) bool { return !strings.ContainsRune("0123456789.+-", r) }) < 0 {
		text += " " + base
	}
	return unit.Parse(text, base)
}

func readResults(dirs []string) ([]*result.Shot, error) {
	var shots []*result.Shot
	err := eachResult(dirs, func(s *result.Shot) { shots = append(shots, s) })
	return shots, err
}

// eachResult shows the shots of result folders one by one; of several folders their names
// begin with the folder's.
func eachResult(dirs []string, show func(*result.Shot)) error {
	n := 0
	for _, dir := range dirs {
		err := curve.EachShot(dir, func(s *result.Shot) {
			if len(dirs) > 1 {
				s.Capture = filepath.ToSlash(filepath.Base(dir)) + "/" + s.Capture
			}
			n++
			show(s)
		})
		if err != nil {
			return err
		}
	}
	if n == 0 {
		return errors.New("no shot in the results")
	}
	return nil
}

// checkKeys refuses a quantity that no shot has a row of.
func checkKeys(shots []*result.Shot, keys []string) error {
	for _, key := range keys {
		if !slices.ContainsFunc(shots, func(s *result.Shot) bool { return s.Quantity(key) != nil }) {
			return fmt.Errorf("--quantity %q: no shot of the results has it; slewbook explain %s tells whether there is such a quantity, and measure --all-windows and --all-definitions ask for named ones", key, key)
		}
	}
	return nil
}

// checkCondition refuses a condition that no shot has, as such or as a note.
func checkCondition(shots []*result.Shot, key string) error {
	var known []string
	for _, s := range shots {
		for _, c := range s.Conditions {
			if c.Key == key || c.Key == "note."+key {
				return nil
			}
			if !slices.Contains(known, c.Key) {
				known = append(known, c.Key)
			}
		}
	}
	return fmt.Errorf("--by %q: no shot of the results has that condition; they have %s", key, strings.Join(known, ", "))
}

func (f *curvesFlags) run(dirs []string, stdout io.Writer) error {
	opt, err := f.options()
	if err != nil {
		return err
	}
	if err := f.out.parse(); err != nil {
		return err
	}
	shots, err := readResults(dirs)
	if err != nil {
		return err
	}
	if err := checkKeys(shots, f.keys); err != nil {
		return err
	}
	if f.by != "" {
		if err := checkCondition(shots, f.by); err != nil {
			return err
		}
	}
	book, err := curve.NewBook(shots, opt)
	if err != nil {
		return err
	}
	for _, g := range book.Grids {
		g.Source = append(g.Source, dirs...)
		g.Source = append(g.Source, "slewbook "+readBuild().String())
	}
	if f.out.dir != "" {
		if err := f.write(book, shots); err != nil {
			return err
		}
	}
	out := bufio.NewWriter(stdout)
	if f.json {
		err = eachChart(book, func(c *result.Chart) error { return reports.WriteChartJSON(out, c) })
	} else {
		err = curvesText(out, book, textOptions(stdout))
	}
	return errors.Join(err, out.Flush())
}

func eachChart(book *curve.Book, do func(*result.Chart) error) error {
	for _, c := range book.Charts {
		if err := do(c); err != nil {
			return err
		}
	}
	return nil
}

// curvesText prints the fits.
func curvesText(w io.Writer, book *curve.Book, opt reports.TextOptions) error {
	rows := [][]string{{"curve", "line", "points", "outliers", "foretold to", "fit"}}
	for _, c := range book.Charts {
		for _, l := range c.Lines {
			outliers := 0
			for _, d := range l.Dots {
				if d.Outlier {
					outliers++
				}
			}
			left := "-"
			if !math.IsNaN(l.Left) {
				left = unit.Format(l.Left, "1", 2)
			}
			rows = append(rows, []string{reports.ChartName(c), l.Label, fmt.Sprint(len(l.Dots)), fmt.Sprint(outliers), left, cmp.Or(l.Formula, l.Why)})
		}
	}
	err := reports.Table{Rows: rows, Keys: 2, Words: reports.AllWords}.Write(w, opt)
	for _, g := range book.Grids {
		lead := "surface: "
		if g.Part != "" {
			lead = "surface of " + g.Part + ": "
		}
		fmt.Fprintln(w)
		err = errors.Join(err, reports.WriteParagraph(w, lead, fmt.Sprintf("%s (%d shots, each foretold by the others to %s; %s of it beyond their own u, which is part of the grid's u)", g.Model, g.Points, unit.Format(float64(g.LeftOut), "1", 2), unit.Format(float64(g.Misfit), "1", 2)), opt))
	}
	for _, part := range []struct {
		lead  string
		lines []string
	}{{"note: ", book.Notes}, {"not made: ", book.Lacks}} {
		for _, line := range part.lines {
			fmt.Fprintln(w)
			err = errors.Join(err, reports.WriteParagraph(w, part.lead, line, opt))
		}
	}
	return err
}

// curvesMark is a file that every folder of curves has.
const curvesMark = "curves.jsonl"

// write writes the files of a book.
func (f *curvesFlags) write(book *curve.Book, shots []*result.Shot) error {
	folder, err := newOutFolder(f.out.dir, curvesMark, "charts", "grids")
	if err != nil {
		return err
	}
	defer folder.abort()
	put := folder.put
	for _, c := range book.Charts {
		figure, err := reports.DrawChart(c, f.out.figures.Style)
		if err != nil {
			return err
		}
		name := "charts/" + reports.ChartName(c)
		if err := figure.WriteAll(name, f.out.figures.Formats, put); err != nil {
			return err
		}
		if err := put(name+".csv", func(w io.Writer) error { return reports.WriteChartCSV(w, c) }); err != nil {
			return err
		}
	}
	for _, g := range book.Grids {
		name := "grids/" + g.Quantity
		if g.Part != "" {
			name = "grids/" + reports.FileName(g.Part) + "/" + g.Quantity
		}
		err := errors.Join(put(name+".json", g.WriteJSON), put(name+".csv", func(w io.Writer) error { return reports.WriteRowsCSV(w, g.Rows()) }))
		if err != nil {
			return err
		}
	}
	page, err := reports.DrawPage(&reports.Page{
		Title: f.title, Subtitle: pageSubtitle(shots), Charts: book.PageCharts(), Spreads: book.PageSpreads(), Items: curve.Items(shots, book.Series),
		Notes: append(slices.Clone(book.Notes), "Bars: U = 2u of one shot. Thin lines: 95 % band of the fit, with what all shots share. Points stand at the measured voltage and current. Nothing here says that a set-up is safe."),
	})
	if err != nil {
		return err
	}
	err = errors.Join(
		put("page.pdf", func(w io.Writer) error { return page.Write(w, "pdf") }),
		put("page.svg", func(w io.Writer) error { return page.Write(w, "svg") }),
		put("spreads.csv", func(w io.Writer) error { return reports.WriteRowsCSV(w, reports.SpreadRows(book.Spreads)) }),
		put("points.csv", func(w io.Writer) error { return reports.WriteRowsCSV(w, curve.RoundedRows(book.Rounded)) }),
		put("grids/schema.json", func(w io.Writer) error { _, err := w.Write(curve.GridSchema); return err }),
		put(curvesMark, func(w io.Writer) error {
			return eachChart(book, func(c *result.Chart) error { return reports.WriteChartJSON(w, c) })
		}))
	if err != nil {
		return err
	}
	return folder.commit()
}

func pageSubtitle(shots []*result.Shot) string {
	return strings.TrimPrefix(fmt.Sprintf("%s, %d shots", curve.Stated(shots, "device"), len(shots)), ", ")
}

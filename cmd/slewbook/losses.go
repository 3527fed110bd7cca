package main

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"os"

	"github.com/spf13/cobra"

	"slewbook/dpt/curve"
	"slewbook/dpt/loss"
	"slewbook/dpt/result"
	"slewbook/reports"
)

// lossesMark is a file that every folder of losses has.
const lossesMark = "losses.jsonl"

type lossesFlags struct {
	json        bool
	converter   string
	frequencies []string
	extrapolate []string
	out         figureFlags
}

func newLossesCmd() *cobra.Command {
	var f lossesFlags
	cmd := &cobra.Command{
		Use:   "losses CURVES --converter FILE",
		Short: "Losses and junction temperature of a converter, from hand-over grids",
		Long: `losses takes the grids of e_on, e_off and e_rr from the folder of curves --out, and
a converter from a TOML file: half bridge with a direct current, buck, boost, or
three-phase with sinusoidal PWM (summed over the carrier cycles, and in closed
form); with conduction data of transistor and diode and the cooling. It tells the
parts of the losses with their uncertainty, what dominates, and the junction
temperatures that agree with them; where none do, that is thermal runaway.

Nothing is read beyond the grids and the conduction data unless --extrapolate names
the condition (i, v, tj, rg); what was is marked. What a double-pulse test does not
tell of a converter stands below the table.

--out writes losses.csv, losses.jsonl and charts/ over the switching frequency.

Exit status: 0 every frequency has its losses; 1 one has not, its row says why; 2 the
run could not be done.`,
		Example: `  slewbook losses curves --converter buck.toml
  slewbook losses curves --converter inverter.toml --frequency 8kHz,16kHz,32kHz --out losses`,
		Args: cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error { return f.run(args[0], cmd.OutOrStdout()) },
	}
	cmd.Flags().BoolVar(&f.json, "json", false, "write one JSON object a switching frequency on stdout and nothing else there")
	cmd.Flags().StringVar(&f.converter, "converter", "", "`file` of the converter (TOML)")
	cmd.Flags().StringSliceVar(&f.frequencies, "frequency", nil, "switching `frequencies` in place of the file's, in Hz or with their unit")
	cmd.Flags().StringSliceVar(&f.extrapolate, "extrapolate", nil, "`conditions` in which the data may be left, marked: i, v, tj, rg")
	f.out.add(cmd)
	cmd.MarkFlagRequired("converter")
	return cmd
}

func (f *lossesFlags) run(dir string, stdout io.Writer) error {
	if err := f.out.parse(); err != nil {
		return err
	}
	c, err := f.read()
	if err != nil {
		return err
	}
	energies, err := loss.ReadGrids(dir)
	if err != nil {
		return err
	}
	var opt loss.Options
	for _, v := range f.extrapolate {
		opt.Extrapolate = append(opt.Extrapolate, curve.Variable(v))
	}
	l, err := loss.Make(c, energies, opt)
	if err != nil {
		return err
	}
	if f.out.dir != "" {
		if err := f.write(l); err != nil {
			return err
		}
	}
	out := bufio.NewWriter(stdout)
	if f.json {
		err = reports.WriteLossesJSON(out, l)
	} else {
		err = reports.WriteLossesText(out, l, textOptions(stdout))
	}
	if err := errors.Join(err, out.Flush()); err != nil {
		return err
	}
	for _, p := range l.Points {
		if p.Err != nil {
			return errLosses
		}
	}
	return nil
}

// errLosses ends a run in which a switching frequency has no losses; its row says why.
var errLosses = errors.New("at least one switching frequency has no honest number; its row says why")

// read reads the converter, with the frequencies of the flag where it is given.
func (f *lossesFlags) read() (loss.Converter, error) {
	text, err := os.ReadFile(f.converter)
	if err != nil {
		return loss.Converter{}, fmt.Errorf("--converter: %w", err)
	}
	c, err := loss.Parse(f.converter, text)
	if err != nil {
		return c, err
	}
	if len(f.frequencies) > 0 {
		c.Fsw = nil
	}
	for _, text := range f.frequencies {
		x, err := number(text, "Hz")
		if err != nil {
			return c, fmt.Errorf("--frequency: %w", err)
		}
		c.Fsw = append(c.Fsw, x)
	}
	return c, nil
}

// write writes the folder of losses.
func (f *lossesFlags) write(l *result.Losses) error {
	folder, err := newOutFolder(f.out.dir, lossesMark, "charts")
	if err != nil {
		return err
	}
	defer folder.abort()
	for _, c := range reports.LossCharts(l) {
		figure, err := reports.DrawChart(c, f.out.figures.Style)
		if err != nil {
			return err
		}
		name := "charts/" + reports.ChartName(c)
		if err := figure.WriteAll(name, f.out.figures.Formats, folder.put); err != nil {
			return err
		}
	}
	err = errors.Join(
		folder.put("losses.csv", func(w io.Writer) error { return reports.WriteLossesCSV(w, l) }),
		folder.put(lossesMark, func(w io.Writer) error { return reports.WriteLossesJSON(w, l) }))
	if err != nil {
		return err
	}
	return folder.commit()
}

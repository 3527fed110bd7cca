package main

import (
	"errors"
	"fmt"
	"io"
	"math"
	"strings"

	"github.com/spf13/cobra"

	"slewbook/dpt"
	"slewbook/dpt/model"
	"slewbook/dpt/result"
	"slewbook/reports"
)

func newDefinitionsCmd() *cobra.Command {
	var figures figureFlags
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "definitions [KEY]",
		Short: "List the named definitions of the quantities, and the sets of them",
		Long: `definitions lists the sets that measure --definitions takes, and every quantity
that can be read in more than one way with the names that measure --definition
takes: levels, source, and how sure the attribution is. With a KEY it tells that
quantity with a sketch of its levels and the formula of each way; with --out it
also draws it, in one way (t_rr.line-75-50), on a shot of the waveform model, which
is invented.`,
		Example: "  slewbook definitions\n  slewbook definitions e_off\n  slewbook definitions t_rr.line-75-50 --out drawn",
		Args:    cobra.MaximumNArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			out := cmd.OutOrStdout()
			if err := figures.parse(); err != nil {
				return err
			}
			if len(args) == 0 && figures.dir != "" {
				return errors.New("--out draws one quantity; name its key, such as e_off")
			}
			if len(args) == 0 && asJSON {
				return reports.WriteDefinitionsJSON(out)
			}
			if len(args) == 0 {
				return reports.WriteDefinitions(out, textOptions(out))
			}
			if err := writeDefinition(out, args[0], asJSON); err != nil || figures.dir == "" {
				return err
			}
			return drawDefinition(args[0], figures)
		},
	}
	cmd.Flags().BoolVar(&asJSON, "json", false, "write one JSON object a quantity, then one a set, on stdout and nothing else there")
	figures.add(cmd)
	return cmd
}

func writeDefinition(out io.Writer, key string, asJSON bool) error {
	if asJSON {
		return reports.WriteDefinitionJSON(out, key)
	}
	return reports.WriteDefinition(out, key, textOptions(out))
}

// drawDefinition draws how a quantity is read on an invented shot.
func drawDefinition(key string, figures figureFlags) error {
	explain := explainFlags{figures: figures}
	_, opt, err := explain.options(key)
	if err != nil {
		return err
	}
	opt.Conditions = []result.Condition{{Key: "origin", Value: math.NaN(), Text: "invented, by the waveform model"}}
	s := model.Demo(600, 60)
	s.Name = "invented"
	shot, err := dpt.Measure(model.Capture(s.Waveforms(), model.DemoInstrument(), 1), opt)
	if err != nil {
		return err
	}
	if shot.Quantity(key) == nil {
		return fmt.Errorf("%s needs data of a set-up file, which the invented shot does not have: draw it with slewbook explain CAPTURE %s --setup FILE --out DIR", key, key)
	}
	return explain.draw(&shot, key)
}

// definitionFlags choose how quantities are read.
type definitionFlags struct {
	set    string
	single []string
}

func (f *definitionFlags) add(cmd *cobra.Command) {
	cmd.Flags().StringVar(&f.set, "definitions", "", "named `set` of definitions (slewbook definitions lists them)")
	cmd.Flags().StringSliceVar(&f.single, "definition", nil, "read one quantity under a named definition: `KEY=NAME`, as often as needed")
}

// apply selects the set first, the single ones on top of it.
func (f *definitionFlags) apply(opt *dpt.Options) error {
	var errs []error
	if f.set != "" {
		errs = append(errs, opt.SelectSet(f.set))
	}
	for _, text := range f.single {
		key, name, ok := strings.Cut(text, "=")
		if !ok {
			return fmt.Errorf("--definition %s; expected KEY=NAME, such as dvdt_on=20-80", text)
		}
		errs = append(errs, opt.SelectDefinition(key, name))
	}
	return errors.Join(errs...)
}

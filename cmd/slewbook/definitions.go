package main

import (
	"errors"
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"slewbook/dpt"
	"slewbook/reports"
)

func newDefinitionsCmd() *cobra.Command {
	return &cobra.Command{
		Use:   "definitions [KEY]",
		Short: "List the named definitions of the quantities, and the sets of them",
		Long: `definitions lists the sets that measure --definitions takes, and every quantity
that can be read in more than one way with the names that measure --definition
takes: levels, source, and how sure the attribution is. With a KEY it tells that
quantity with a sketch of its levels and the formula of each way.`,
		Example: "  slewbook definitions\n  slewbook definitions e_off",
		Args:    cobra.MaximumNArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			out := cmd.OutOrStdout()
			if len(args) == 0 {
				return reports.WriteDefinitions(out, textOptions(out))
			}
			return reports.WriteDefinition(out, args[0], textOptions(out))
		},
	}
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

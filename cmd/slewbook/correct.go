package main

import (
	"fmt"

	"github.com/spf13/cobra"

	"slewbook/dpt"
)

// correctFlag asks for known biases to be taken out of the values.
type correctFlag struct{ what []string }

func (f *correctFlag) add(cmd *cobra.Command) {
	cmd.Flags().StringSliceVar(&f.what, "correct", nil, "take a known bias out of the values in place of counting it in their uncertainty: `bandwidth`, which the set-up must state")
}

func (f *correctFlag) apply(opt *dpt.Options) error {
	for _, what := range f.what {
		if what != "bandwidth" {
			return fmt.Errorf("--correct: %q is not known; expected bandwidth", what)
		}
		opt.CorrectBandwidth = true
	}
	return nil
}

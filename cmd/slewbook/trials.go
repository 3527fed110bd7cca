package main

import (
	"github.com/spf13/cobra"

	"slewbook/dpt/uncertainty"
)

// What a simulation settles to, as a part of the numerical tolerance of u, and where
// it ends if it does not. One quantity is settled so far that it can validate (JCGM
// 101, 8.2); all of a shot would take too long for that.
var (
	ofAll = uncertainty.Simulation{Tolerance: 1, Most: 50_000}
	ofOne = uncertainty.Simulation{Tolerance: 0.2, Most: 500_000}
)

// trialFlags are the flags of the commands that propagate distributions.
type trialFlags struct {
	on   bool
	seed uint64
}

func (f *trialFlags) add(cmd *cobra.Command) {
	cmd.Flags().BoolVar(&f.on, "monte-carlo", false, "propagate distributions as well (JCGM 101): draw all inputs and the noise anew and read the edges again, 20000 times and more")
	cmd.Flags().Uint64Var(&f.seed, "seed", 1, "seed `N` of the random numbers of --monte-carlo")
}

// simulation returns what is asked for.
func (f *trialFlags) simulation(of uncertainty.Simulation) uncertainty.Simulation {
	if !f.on {
		return uncertainty.Simulation{}
	}
	of.Seed = f.seed
	return of
}

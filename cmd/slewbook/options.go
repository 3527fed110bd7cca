package main

import (
	"slewbook/dpt"
	"slewbook/dpt/setup"
)

// loadOptions returns the options of the set-up file, or the defaults without
// one.
func loadOptions(path string) (dpt.Options, error) {
	opt := dpt.Defaults()
	if path != "" {
		bench, err := setup.Load(path)
		if err != nil {
			return opt, err
		}
		opt = bench.Options()
	}
	opt.Version = readBuild().String()
	return opt, opt.Validate()
}

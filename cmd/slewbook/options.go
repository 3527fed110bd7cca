package main

import (
	"slewbook/dpt"
	"slewbook/dpt/setup"
	"slewbook/waveform/format"
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

// fileOptions returns what the set-up file says of how captures are found and
// read.
func fileOptions(path string) (format.Options, error) {
	if path == "" {
		return format.Options{}, nil
	}
	bench, err := setup.Load(path)
	if err != nil {
		return format.Options{}, err
	}
	return format.Options{Separate: bench.File.Separate, Interval: bench.File.Interval, Start: bench.File.Start}, nil
}

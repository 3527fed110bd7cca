package main

import (
	"slewbook/dpt"
	"slewbook/dpt/campaign"
	"slewbook/dpt/limits"
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

// loadPlan returns what the set-up's pattern and the shot list tell of each shot
// beforehand; either path may be "".
func loadPlan(setupPath, list string) (campaign.Plan, error) {
	var plan campaign.Plan
	if setupPath != "" {
		bench, err := setup.Load(setupPath)
		if err != nil {
			return plan, err
		}
		if bench.File.Pattern != "" {
			if plan.Pattern, err = campaign.ParsePattern(bench.File.Pattern); err != nil {
				return plan, err
			}
		}
	}
	if list == "" {
		return plan, nil
	}
	var err error
	plan.List, err = campaign.ReadList(list)
	return plan, err
}

// loadRatings returns the limits that the set-up file gives of device and insulation.
func loadRatings(path string) ([]limits.Rating, error) {
	if path == "" {
		return nil, nil
	}
	bench, err := setup.Load(path)
	if err != nil {
		return nil, err
	}
	return bench.Limits(), nil
}

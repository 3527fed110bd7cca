package main

import (
	"slewbook/dpt"
	"slewbook/dpt/campaign"
	"slewbook/dpt/limits"
	"slewbook/dpt/setup"
	"slewbook/waveform/format"
)

// bench is a set-up file, read once for all that a command takes from it. Without a
// file it holds nil.
type bench struct{ file *setup.Setup }

// loadBench reads the set-up file; the path may be "" for none.
func loadBench(path string) (bench, error) {
	if path == "" {
		return bench{}, nil
	}
	file, err := setup.Load(path)
	return bench{file}, err
}

// options returns the options of the bench, or the defaults without one.
func (b bench) options() (dpt.Options, error) {
	opt := dpt.Defaults()
	if b.file != nil {
		opt = b.file.Options()
	}
	opt.Version = readBuild().String()
	return opt, opt.Validate()
}

// files returns what the set-up says of how captures are found and read.
func (b bench) files() format.Options {
	if b.file == nil {
		return format.Options{}
	}
	f := b.file.File
	return format.Options{Separate: f.Separate, Interval: f.Interval, Start: f.Start}
}

// plan returns what the set-up's pattern and the shot list, if one is named, tell of
// each shot beforehand.
func (b bench) plan(list string) (campaign.Plan, error) {
	var plan campaign.Plan
	var err error
	if b.file != nil && b.file.File.Pattern != "" {
		if plan.Pattern, err = campaign.ParsePattern(b.file.File.Pattern); err != nil {
			return plan, err
		}
	}
	if list != "" {
		plan.List, err = campaign.ReadList(list)
	}
	return plan, err
}

// matrix returns that of the plan, with no shot yet.
func (b bench) matrix(list string) (*campaign.Matrix, error) {
	opt, err := b.options()
	if err != nil {
		return nil, err
	}
	plan, err := b.plan(list)
	if err != nil {
		return nil, err
	}
	return campaign.NewMatrix(plan, opt.Conditions)
}

// margins returns those to the limits that the set-up gives of device and insulation,
// with no shot yet.
func (b bench) margins() *limits.Margins {
	if b.file == nil {
		return limits.NewMargins(nil)
	}
	return limits.NewMargins(b.file.Limits())
}

package main

import (
	"slewbook/dpt"
	"slewbook/waveform"
)

// loadOptions returns the options of the set-up file, or the defaults without
// one.
func loadOptions(path string) (dpt.Options, error) {
	opt := dpt.Defaults()
	opt.Version = readBuild().String()
	return opt, nil
}

func levelMethod(name string) waveform.LevelMethod { return waveform.LevelMethod(name) }

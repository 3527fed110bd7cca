package setup

import (
	"slewbook/dpt"
	"slewbook/dpt/condition"
	"slewbook/dpt/result"
	"slewbook/waveform"
)

// Options returns the options by which dpt measures the shots of this bench.
func (s *Setup) Options() dpt.Options {
	opt := dpt.Defaults()
	opt.Device = dpt.Device(s.Device.Kind)
	opt.Conditions = s.Conditions()
	opt.KeepZero = !s.Baseline.Zero
	opt.MatchBandwidth = s.Alignment.MatchBandwidth
	opt.ZeroOver = waveform.Interval{From: s.Baseline.From, To: s.Baseline.To}
	if s.Energy.WindowOff != "" {
		opt.WindowOff = s.Energy.WindowOff
	}
	if s.Energy.WindowOn != "" {
		opt.WindowOn = s.Energy.WindowOn
	}
	if s.Levels.Method != "" {
		opt.Level = waveform.LevelMethod(s.Levels.Method)
	}
	opt.Channels = map[result.Role]dpt.Channel{}
	for role, ch := range s.Channel {
		opt.Channels[role] = dpt.Channel{Source: ch.Source, Filter: ch.Filter, ShuntR: ch.ShuntR, ShuntL: ch.ShuntL, Droop: ch.Droop, Bandwidth: ch.Bandwidth, GainU: ch.GainU, OffsetU: ch.OffsetU, Channel: condition.Channel{
			Scale: ch.Scale, Invert: ch.Invert, Offset: ch.Offset, Delay: ch.Delay, RangeMin: ch.RangeMin, RangeMax: ch.RangeMax}}
	}
	return opt
}

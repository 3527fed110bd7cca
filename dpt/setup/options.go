package setup

import (
	"math"

	"slewbook/dpt"
	"slewbook/dpt/condition"
	"slewbook/dpt/plan"
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
	s.define(&opt)
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
		opt.Channels[role] = ch.traced(role, dpt.Channel{Source: ch.Source, ScaleStated: ch.Stated, Filter: ch.Filter, ShuntR: ch.ShuntR, ShuntL: ch.ShuntL, Droop: ch.Droop, Bandwidth: ch.Bandwidth, GainU: ch.GainU, OffsetU: ch.OffsetU, DelayU: ch.DelayU, Bits: ch.Bits, Range: ch.Range, Channel: condition.Channel{
			Scale: ch.Scale, Invert: ch.Invert, Offset: ch.Offset, Delay: ch.Delay, RangeMin: ch.RangeMin, RangeMax: ch.RangeMax}})
	}
	opt.Given = s.given()
	d := s.Device
	opt.Gate = dpt.GateLimits{Max: known(d.VgsMax), Min: known(d.VgsMin), DynamicMax: known(d.VgsMaxDynamic), DynamicMin: known(d.VgsMinDynamic), Threshold: known(d.VgsTh)}
	return opt
}

// traced adds what the channel's calibration and specification tell; gain_u and
// offset_u, which are more particular, count before it.
func (ch Channel) traced(role result.Role, to dpt.Channel) dpt.Channel {
	if ch.Bits > 0 && ch.Range > 0 {
		to.Step = ch.Range / math.Exp2(float64(ch.Bits))
	}
	to.Reference = ch.GainRef
	to.Calibrated, _ = dpt.ParseDate(ch.Calibrated) // checked when the file was read
	to.Due, _ = dpt.ParseDate(ch.Due)
	if ch.Drift > 0 {
		to.Drift = ch.Drift
	}
	if ch.Accuracy == "" {
		return to
	}
	a, err := dpt.ParseAccuracy(ch.Accuracy, role.Unit())
	if err != nil {
		panic("setup: " + err.Error())
	}
	if !(to.GainU > 0) {
		to.GainU, to.GainBounded = a.Gain(), a.Bounded
	}
	if !(to.OffsetU > 0) {
		to.OffsetU, to.OffsetBounded = a.Zero(ch.Range), a.Bounded
	}
	return to
}

// Bench returns what the test is planned from.
func (s *Setup) Bench() plan.Bench {
	b := s.Plan
	b.L, b.C, b.LLoop = s.Circuit.LLoad, s.Circuit.CBus, s.Circuit.LLoop
	b.LPack, b.VMax, b.IMax = s.Device.LPackage, s.Device.VMax, s.Device.IMax
	b.Dvdt, b.Didt = s.Device.DvdtMax, s.Device.DidtMax
	for role, p := range map[result.Role]*plan.Probe{result.Vds: &b.V, result.Id: &b.I} {
		if ch, ok := s.Channel[role]; ok {
			*p = plan.Probe{Bandwidth: ch.Bandwidth, Range: ch.Range, Bits: ch.Bits}
		}
	}
	return b
}

// known returns what was given, 0 for what was not.
func known(x float64) float64 {
	if math.IsNaN(x) {
		return 0
	}
	return x
}

// given returns what the set-up tells of capacitances and inductances.
func (s *Setup) given() dpt.Given {
	g := dpt.Given{LPackage: known(s.Device.LPackage), CossEnergy: known(s.Device.CossEnergy), CossCharge: known(s.Device.CossCharge),
		CRing: known(s.Circuit.CRing), CAdded: known(s.Circuit.CAdded), FAdded: known(s.Circuit.FAdded), LLoad: known(s.Circuit.LLoad), CBus: known(s.Circuit.CBus)}
	if id, ok := s.Channel[result.Id]; ok {
		g.LSensor = known(id.LInsert)
	}
	if s.Device.Coss != "" {
		g.Coss, _ = dpt.ParseCoss(s.Device.Coss) // checked when the file was read
	}
	return g
}

// define selects the definitions of the file, whose names were checked when it
// was read.
func (s *Setup) define(opt *dpt.Options) {
	opt.SpanFrom, opt.SpanTo, opt.OnDelay = s.Definitions.SpanFrom, s.Definitions.SpanTo, s.Definitions.OnDelay
	if s.Definitions.Set != "" {
		if err := opt.SelectSet(s.Definitions.Set); err != nil {
			panic("setup: " + err.Error())
		}
	}
	if s.Definitions.Choose == "" {
		return
	}
	choices, err := parseChoices(s.Definitions.Choose)
	if err != nil {
		panic("setup: " + err.Error())
	}
	for _, c := range choices {
		if err := opt.SelectDefinition(c.Key, c.Name); err != nil {
			panic("setup: " + err.Error())
		}
	}
}

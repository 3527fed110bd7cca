package dpt

import (
	"cmp"
	"fmt"
	"math"

	"slewbook/dpt/result"
	"slewbook/waveform"
)

// loadBendTol is the bend of the ramp from which it is worth a word, and must
// stand out of its own noise.
const loadBendTol = 0.10

// loadRamp reads the load inductance from the ramp of the first pulse, and its
// bend.
func (m *measurer) loadRamp() {
	// The first stay in which the device conducts, from a fifth of it on: the
	// turn-on has rung out by then.
	k := 0
	if m.r.events[0].Edge == result.TurnOn {
		k = 1
	}
	over := part(m.r.stay(k), 0.2, 1)
	over.To = min(over.To, m.r.conducting(k, m.opt.Level).To)
	l, bend := m.r.loadInductance(over, m.rampBus(k))
	pulse := "the first pulse in the record"
	ql := reading{value: l, over: over, def: "(v_bus - v)/(di/dt), ramp of " + pulse}
	qb := reading{value: bend, over: over, def: "change of slope from start to end, ramp of " + pulse}
	draw := func(d *result.Drawing) {
		l := waveform.FitLine(m.r.i, over)
		d.Lines = append(d.Lines, result.Construction{Role: result.Id, Trace: straight("fitted ramp", over, l.At(over.From), l.At(over.To))})
	}
	ql.draw, qb.draw = draw, draw
	if len(m.r.i.Samples(over)) < minQuiet || !(l > 0) {
		const what = "the load's ramp"
		w := cmp.Or(lost(result.Id, m.r.i, over, what), lost(result.Vds, m.r.v, over, what),
			&waveform.Warning{Code: waveform.NotInRecord, Channel: string(result.Id), Over: over, Text: "there is no ramp of the load current to read it from"})
		ql, qb = missing(ql.def, w), missing(qb.def, w)
	} else if math.Abs(bend) > loadBendTol && math.Abs(bend) > 4*m.bendNoise(over) {
		qb.warn(&waveform.Warning{Code: waveform.LoadBend, Channel: string(result.Id), Over: over,
			Text: fmt.Sprintf("the slope of the load's ramp changes by %+.0f %% from start to end: up is saturation, down is resistance or a sagging bus", 100*bend)})
	}
	if !math.IsNaN(ql.value) {
		noise := m.bendNoise(over)
		ql.budgeted([]result.Contribution{
			m.gainOf(result.Vds, l),
			m.gainOf(result.Id, -l),
			m.unsettledOf(l / (m.rampBus(k) - waveform.Mean(m.r.v.Samples(over)))),
			{Source: noiseSource, U: noise / 4 * l, Unit: "H", Effect: noise / 4 * l, Scope: result.OfReading, Basis: fromCapture},
			m.droopLine("H", -l*waveform.Mean(m.r.i.Samples(over))/waveform.FitLine(m.r.i, over).Slope),
		})
		qb.budgeted([]result.Contribution{
			{Source: noiseSource, U: noise, Unit: "1", Effect: noise, Scope: result.OfReading, Basis: fromCapture},
			m.droopLine("1", over.Duration()),
		})
	}
	m.read["l_load"], m.read["load_bend"] = ql, qb
}

// unsettledOf is the line of a budget for a vds that is off zero while the device conducts,
// where one volt of it changes the value by unit: if its probe has not settled, the level
// while it blocks is not off by as much.
func (m *measurer) unsettledOf(unit float64) result.Contribution {
	u := math.Abs(m.offV.level)
	return result.Contribution{Source: "on-state of vds", U: u, Unit: "V", Effect: u * unit, Scope: result.OfSetup, Basis: fromCapture}
}

// droopSource names the budget line of a current sensor's droop.
const droopSource = "droop of id"

// droopLine is the line of a budget for a droop of the current, where a droop at the rate
// 1/τ changes the value by so much of it: the current's slope by -i/τ. How fast the sensor
// may droop is seen where the device blocks: its zero has drifted by the charge that has
// flowed over τ. All of a drift is taken for that, whatever its sign, and counts whole,
// since it is left in.
func (m *measurer) droopLine(unit string, perRate float64) result.Contribution {
	rate := 0.0
	if flowed := m.chargeToLastBlocking(); m.drift/flowed-m.drift/flowed == 0 {
		rate = m.drift / flowed
	}
	return result.Contribution{Source: droopSource, U: math.Abs(rate), Unit: "1/s", Effect: rate * perRate, Scope: result.OfSetup, Basis: fromCapture}
}

// chargeToLastBlocking is the charge that flows from where the zero was read to where the
// device begins to block for the last time [C], where its drift was.
func (m *measurer) chargeToLastBlocking() float64 {
	k := len(m.r.events)
	for k > 0 && m.r.conducts(k) {
		k--
	}
	return waveform.Integral(m.r.i, waveform.Interval{From: m.zero.over.To, To: m.r.stay(k).From})
}

// rampBus returns the bus voltage that the load sees while the device conducts
// in stay k: the level at rest before, when nothing flows yet, rather than the
// one after, which has the freewheeling device's forward voltage on it.
func (m *measurer) rampBus(k int) float64 {
	n := k - 1
	if n < 0 {
		n = k + 1
	}
	if n > len(m.r.events) {
		return math.NaN()
	}
	return m.r.rest(m.r.v, n, m.r.vHigh-m.r.vLow, m.opt.Level).level
}

// bendNoise is the standard deviation of the bend that noise of the current
// alone would give: each half's slope has σ√12/(n^1.5 dt).
func (m *measurer) bendNoise(over waveform.Interval) float64 {
	line := waveform.FitLine(m.r.i, over)
	n := float64(line.N) / 2
	slope := line.Residual * math.Sqrt(12*m.r.grain[result.Id].reach) / (math.Pow(n, 1.5) * m.r.i.Dt)
	return 2 * math.Sqrt2 * slope / math.Abs(line.Slope)
}

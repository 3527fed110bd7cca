package dpt

import (
	"fmt"
	"math"
	"slices"

	"slewbook/dpt/result"
	"slewbook/waveform"
	"slewbook/waveform/unit"
)

// What is assumed of a channel where neither the set-up nor the capture tells,
// as standard uncertainties. Every result that uses one names it.
const (
	defaultGainU     = 0.01  // of the gain, relative
	defaultOffsetU   = 0.003 // of the zero, relative to the span of the record
	defaultBandwidth = 300e6 // of a channel [Hz]
	besideLoad       = 0.001 // of what flows beside the load's inductance (winding, leaks), relative to its current
	defaultDelay     = 5e-9  // of a delay that cannot be told [s]: probes and cables as they come
)

// Where an uncertainty is from.
const (
	fromSetup   = "set-up"
	fromCapture = "capture"
	assumed     = "assumed"

	fromSimulation = "simulated: exact"
)

// delaySource names the input that a reading may have taken out itself.
const delaySource = "delay of id"

// stated is a standard uncertainty and where it is from.
type stated struct {
	u       float64
	basis   string
	bounded bool // the error is within ±√3·u, any value as likely as another; else it is normal
	unknown bool // nothing bounds the error; u serves to see what depends on it
}

// source is one input of the measurement that is known with a standard
// uncertainty, and what an error x of it does to an edge.
type source struct {
	name, unit string
	of         result.Role // whose samples and levels it moves
	stated
	scope result.Scope
	move  func(e *edge, x float64)
}

// sources lists the inputs of an edge with their uncertainties: from the set-up,
// else from the capture, else assumed.
func (m *measurer) sources(e *edge) []source {
	all := []source{
		{"gain of vds", "1", result.Vds, m.gainU(result.Vds), result.OfSetup, func(e *edge, x float64) {
			e.v, e.bus.level = change(e.v, 1+x, 0), e.bus.level*(1+x)
		}},
		{"zero of vds", "V", result.Vds, m.offsetU(result.Vds, m.r.v), result.OfSetup, func(e *edge, x float64) {
			e.v, e.bus.level = change(e.v, 1, x), e.bus.level+x
		}},
		{"gain of id", "1", result.Id, m.gainU(result.Id), result.OfSetup, func(e *edge, x float64) {
			e.i, e.load = change(e.i, 1+x, 0), e.load*(1+x)
		}},
		{"zero of id", "A", result.Id, m.zeroU(), result.OfShot, func(e *edge, x float64) {
			e.i, e.load = change(e.i, 1, x), e.load+x
		}},
		{delaySource, "s", result.Id, m.delayU(), m.delays.scope(), func(e *edge, x float64) {
			e.i.T0 += x
			if e.kind == result.TurnOff { // at a turn-on the ramp moves with its passage
				e.load -= x * e.line.line.Slope
			}
		}},
		{"level of the bus", "V", result.Vds, stated{u: e.bus.u(m.r.v, m.r.grain[result.Vds]), basis: fromCapture}, result.OfEdge, func(e *edge, x float64) { e.bus.level += x }},
		{"load current", "A", result.Id, stated{u: e.loadU(), basis: fromCapture}, result.OfEdge, func(e *edge, x float64) { e.load += x }},
	}
	if e.g != nil && !math.IsNaN(e.gHigh-e.gLow) {
		// Its gain and zero move signal and levels alike.
		all = append(all, source{"delay of vgs", "s", result.Vgs, m.unseenDelayU(result.Vgs), result.OfSetup, func(e *edge, x float64) {
			e.g.T0 += x
			e.gate.From += x
		}}, source{"levels of vgs", "V", result.Vgs, stated{u: e.gateU(), basis: fromCapture}, result.OfEdge, func(e *edge, x float64) {
			e.gLow, e.gHigh = e.gLow+x, e.gHigh+x
		}})
	}
	return append(all, m.partnerSources(e)...)
}

// change returns the trace with a·y + b.
func change(tr *waveform.Trace, a, b float64) *waveform.Trace {
	out := *tr
	out.Y = make([]float64, len(tr.Y))
	for k, y := range tr.Y {
		out.Y[k] = a*y + b
	}
	return &out
}

func (m *measurer) gainU(role result.Role) stated {
	if m.opt.Channels[role].Exact {
		return stated{basis: fromSimulation}
	}
	if ch := m.opt.Channels[role]; ch.GainU > 0 {
		if drift := m.drifted(role); drift > 0 {
			return stated{u: math.Hypot(ch.GainU, drift), basis: fromSetup + ", drift since calibration"}
		}
		return stated{u: ch.GainU, basis: fromSetup, bounded: ch.GainBounded}
	}
	m.assume("gain of %s known to %s (k = 1)", role, unit.Format(defaultGainU, "1", 2))
	return stated{u: defaultGainU, basis: assumed}
}

func (m *measurer) offsetU(role result.Role, tr *waveform.Trace) stated {
	known := m.statedOffsetU(role, tr)
	if role != result.Vds {
		return known
	}
	if m.offV.level != 0 || m.creep.level != 0 { // an error that is seen and left in counts whole
		return stated{u: math.Hypot(math.Hypot(known.u, m.offV.level), m.creep.level), basis: fromCapture}
	}
	return known
}

func (m *measurer) statedOffsetU(role result.Role, tr *waveform.Trace) stated {
	if m.opt.Channels[role].Exact {
		return stated{basis: fromSimulation}
	}
	if ch := m.opt.Channels[role]; ch.OffsetU > 0 {
		return stated{u: ch.OffsetU, basis: fromSetup, bounded: ch.OffsetBounded}
	}
	u := defaultOffsetU * m.r.swing(tr)
	m.assume("zero of %s known to %s (k = 1), %s of its span", role, unit.Format(u, role.Unit(), 2), unit.Format(defaultOffsetU, "1", 2))
	return stated{u: u, basis: assumed}
}

// zeroU is the uncertainty of the current's zero: as read off, with its drift
// and where the load's ramp starts in its place; where it was not read, that of the channel.
func (m *measurer) zeroU() stated {
	if math.IsNaN(m.zero.level) || m.opt.KeepZero {
		return m.offsetU(result.Id, m.r.i)
	}
	u := math.Hypot(m.zero.u(m.r.i, m.r.grain[result.Id]), m.start.level)
	if d := m.drift; d == d {
		u = math.Hypot(u, d/math.Sqrt(3))
	}
	return stated{u: u, basis: fromCapture}
}

// gainOf is the line of a budget for the gain of a channel, where an error of all of
// it changes the value by whole.
func (m *measurer) gainOf(role result.Role, whole float64) result.Contribution {
	gain := m.gainU(role)
	return result.Contribution{Source: gainSource + string(role), U: gain.u, Unit: "1", Effect: gain.u * whole, Scope: result.OfSetup, Basis: gain.basis}
}

// zeroOf is that for the zero of a channel, where one unit of it changes the value by
// unit.
func (m *measurer) zeroOf(role result.Role, tr *waveform.Trace, unit float64) result.Contribution {
	zero := m.offsetU(role, tr)
	return result.Contribution{Source: "zero of " + string(role), U: zero.u, Unit: role.Unit(), Effect: zero.u * unit, Scope: result.OfSetup, Basis: zero.basis}
}

// zeroOfID is that for the zero of the current as it was read off.
func (m *measurer) zeroOfID(unit float64) result.Contribution {
	zero := m.zeroU()
	return result.Contribution{Source: "zero of id", U: zero.u, Unit: "A", Effect: zero.u * unit, Scope: result.OfShot, Basis: zero.basis}
}

// channelSources lists the inputs that a channel beside v, i and the gate brings: gain,
// zero, and the lag that is left in it.
func (m *measurer) channelSources(role result.Role, tr *waveform.Trace, lag stated) []source {
	set := func(e *edge, a, b, later float64) {
		e.other[role] = change(e.other[role], a, b)
		e.other[role].T0 += later
	}
	return []source{
		{gainSource + string(role), "1", role, m.gainU(role), result.OfSetup, func(e *edge, x float64) { set(e, 1+x, 0, 0) }},
		{"zero of " + string(role), role.Unit(), role, m.offsetU(role, tr), result.OfSetup, func(e *edge, x float64) { set(e, 1, x, 0) }},
		{"delay of " + string(role), "s", role, lag, result.OfSetup, func(e *edge, x float64) { set(e, 1, 0, x) }},
	}
}

// assume notes once what was assumed.
func (m *measurer) assume(format string, args ...any) {
	if text := fmt.Sprintf(format, args...); !slices.Contains(m.shot.Assumed, text) {
		m.shot.Assumed = append(m.shot.Assumed, text)
	}
}

// u is the standard uncertainty of a level read on a stretch: of the mean of its
// samples, of what its two halves differ by, and of a quantisation step where
// the noise is too small to average it out.
func (s state) u(tr *waveform.Trace, g grain) float64 {
	y := tr.Samples(s.over)
	spread := waveform.StdDev(y)
	half := waveform.Mean(y[:len(y)/2]) - waveform.Mean(y[len(y)/2:])
	u := math.Hypot(spread*math.Sqrt(g.reach/float64(len(y))), half/math.Sqrt(12))
	if spread < g.step/2 {
		u = math.Hypot(u, g.step/math.Sqrt(12))
	}
	return u
}

// gateU is the standard uncertainty of either level of the gate [V].
func (e *edge) gateU() float64 {
	u := 0.0
	for _, s := range e.gateRest {
		u = math.Hypot(u, s.u(e.g, e.grain[result.Vgs]))
	}
	return u
}

// loadU is the standard uncertainty of the load current at the edge: of the
// fitted line where it is continued to, and of its bend, as the difference of
// what its two halves give.
func (e *edge) loadU() float64 {
	l, over := e.line.line, e.line.over
	n := float64(l.N)
	far := (e.search.From - l.T) / over.Duration()
	noise := l.Residual * math.Sqrt(e.grain[result.Id].reach*(1+12*far*far)/n)
	a, b := waveform.FitLine(e.i, part(over, 0, 0.5)), waveform.FitLine(e.i, part(over, 0.5, 1))
	bend := (a.At(e.search.From) - b.At(e.search.From)) / math.Sqrt(12)
	return math.Hypot(math.Hypot(noise, bend), besideLoad*e.load)
}

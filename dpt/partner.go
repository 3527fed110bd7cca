package dpt

import (
	"fmt"
	"math"

	"slewbook/dpt/condition"
	"slewbook/dpt/result"
	"slewbook/waveform"
	"slewbook/waveform/unit"
)

// The partner is the freewheeling device. Its voltage counts positive where it blocks,
// its current where it carries the load; so v_other = v_bus - v - L·di/dt and
// i_other = i_load - i, by Kirchhoff's laws.

// partnerTol is how far, relative to the bus and to the load current, the partner's
// voltage and current may be off what these laws say at rest.
const partnerTol = 0.5

// checkPartner leaves out a channel that is not what the partner must have at rest: the
// bus voltage while the device under test conducts, the load current in a gap. It says so,
// and turns nothing round.
func (m *measurer) checkPartner() {
	if m.on == nil || m.off == nil {
		return
	}
	bus, load := m.off.bus.level, m.off.load
	gap := m.on.bus.over // at rest before the turn-on
	for _, c := range []struct {
		role result.Role
		over waveform.Interval
		want float64
		when string
	}{{result.VOther, m.off.line.over, bus, "while the device under test conducts"}, {result.IOther, gap, load, "in the gap"}} {
		tr := m.r.other[c.role]
		if tr == nil || math.IsNaN(c.want) {
			continue
		}
		is := waveform.Mean(tr.Samples(c.over))
		if math.Abs(is-c.want) <= partnerTol*c.want {
			continue
		}
		code, cure := waveform.ScaleSuspect, "look at its scale and at the trace that was given this role"
		if math.Abs(is+c.want) <= partnerTol*c.want {
			code, cure = waveform.Polarity, fmt.Sprintf("set channel.%s.invert = true in the set-up file", c.role)
		}
		m.warn(code, c.role, c.over, "%s is %s %s, where the freewheeling device has %s: it is left out; %s", c.role,
			unit.Format(is, c.role.Unit(), 4), c.when, unit.Format(c.want, c.role.Unit(), 4), cure)
		delete(m.r.other, c.role)
		delete(m.shot.Traces, c.role)
	}
}

// partnerDelay is the lag of the partner's voltage behind v, or of its current behind
// i: at the turn-off one passes half the bus, or half the load current, as the other
// does. Its uncertainty is what Kirchhoff's law is off by over the passage with the lag
// taken out, over the slope there: the loop's L·di/dt, or what flows into capacitances.
func (e *edge) partnerDelay(role result.Role) reading {
	mine, whole, sum := result.Vds, e.bus.level, "v + v_other = v_bus"
	if role == result.IOther {
		mine, whole, sum = result.Id, e.load, "i + i_other = i_load"
	}
	def := fmt.Sprintf("passages of 50 %% by %s and %s at the turn-off, where %s", mine, role, sum)
	// The other way round than e.direction has it for a turn-on.
	own, w := e.crossing(result.Limit{Signal: mine, Percent: 50})
	tr := e.other[role]
	other := math.NaN()
	if w == nil {
		near := waveform.Interval{From: own - alignReach, To: own + alignReach}
		other = waveform.FirstCrossing(tr, whole/2, e.direction(role), near)
	}
	if math.IsNaN(other) {
		if w == nil {
			w = &waveform.Warning{Code: waveform.LevelNotReached, Channel: string(role), Over: e.search,
				Text: fmt.Sprintf("%s does not pass half of %s within %s of %s", role, unit.Format(whole, role.Unit(), 4), unit.Format(alignReach, "s", 2), mine)}
		}
		return missing(def, w)
	}
	lag := other - own
	mineTr, _ := e.trace(mine)
	slope, _ := local(mineTr, own, e.grain[mine].sigma)
	half := math.Abs(0.4 * whole / slope)
	over := waveform.Interval{From: own - half, To: own + half}
	sum2, n := 0.0, 0.0
	lo, hi := mineTr.Indices(over)
	for k := lo; k < hi; k++ {
		if d := mineTr.Y[k] + tr.At(mineTr.Time(k)+lag) - whole; !math.IsNaN(d) {
			sum2 += d * d
			n++
		}
	}
	q := reading{value: lag, over: over, def: def}
	u := math.Sqrt(sum2/n) / math.Abs(slope)
	if n < 3 {
		u = math.Max(mineTr.Dt, tr.Dt)
	}
	q.budgeted([]result.Contribution{{Source: "what " + sum + " is off by", U: u, Unit: "s", Effect: u, Scope: result.OfShot, Basis: fromCapture}})
	return q
}

// alignReach is how far a lag is looked for, either way [s].
const alignReach = 100e-9

// alignPartner reads the lags of the partner's channels, and takes out those that are
// sure where that is asked for.
func (m *measurer) alignPartner() {
	for _, role := range []result.Role{result.VOther, result.IOther} {
		if m.r.other[role] == nil || m.opt.Align == AlignOff {
			continue
		}
		key := "delay_" + string(role)
		if m.off == nil || m.off.noLoad(m.full) != nil {
			m.read[key] = missing("", m.notInRecord(result.TurnOff, m.opt.PulseOff))
			continue
		}
		q := m.off.partnerDelay(role)
		left := q.value
		q.delay = &result.Delay{Suggested: math.NaN(), Applied: m.opt.Channels[role].Delay}
		if m.opt.Align == AlignApply && math.Abs(q.value) > q.u {
			ch := condition.AsRead()
			ch.Delay = q.value
			m.r.other[role] = condition.Apply(m.r.other[role], ch)
			q.delay.Applied += q.value
			left = 0
			m.shot.Corrections = append(m.shot.Corrections, result.Correction{Channel: role, Kind: "delay", Value: q.value, Unit: "s",
				Over: q.over, EOn: math.NaN(), EOff: math.NaN(), Text: fmt.Sprintf("%s moved %s earlier, as found from the shot", role, unit.Format(q.value, "s", 3))})
		}
		m.lags[role] = stated{u: math.Hypot(q.u, left), basis: fromCapture}
		q.value += m.opt.Channels[role].Delay
		m.read[key] = q
	}
}

// partnerSources lists the inputs that the partner's channels bring.
func (m *measurer) partnerSources(e *edge) []source {
	var all []source
	for _, role := range []result.Role{result.VOther, result.IOther} {
		tr := e.other[role]
		if tr == nil {
			continue
		}
		lag, ok := m.lags[role]
		if !ok || math.IsNaN(lag.u) {
			lag = m.unseenDelayU(role)
		} else if role == result.IOther { // behind id, which may lag itself
			lag.u = math.Hypot(lag.u, m.delayU().u)
		}
		all = append(all, m.channelSources(role, tr, lag)...)
	}
	return all
}

// partnerOn reads the partner's voltage at a turn-on, where it takes over the bus.
func (e *edge) partnerOn(q map[string]reading) {
	if e.other[result.VOther] == nil {
		return
	}
	q["v_other_peak"] = e.peak(result.VOther, e.search, "largest sample up to the next event")
	limit := func(p float64) result.Limit { return result.Limit{Signal: result.VOther, Percent: p} }
	q["dvdt_other"] = average(e.duration(limit(10), limit(90)), e.bus.level, 80)
}

// partnerOff reads the partner's forward recovery at a turn-off: the largest voltage
// in its forward direction, before its current is established (IEC 60747-2, V_FRM).
func (e *edge) partnerOff(q map[string]reading) {
	tr := e.other[result.VOther]
	if tr == nil {
		return
	}
	const def = "largest forward voltage of the freewheeling device as it takes over the load current, at its sense points"
	back := change(tr, -1, 0)
	y, t := waveform.Max(back, e.search)
	over := waveform.Interval{From: t, To: t}
	if math.IsNaN(y) {
		q["v_frm"] = missing(def, &waveform.Warning{Code: waveform.ClippedWindow, Channel: string(result.VOther), Over: e.search, Text: "a sample of v_other is over range or missing after the turn-off"})
		return
	}
	q["v_frm"] = reading{value: y, over: over, noise: e.grain[result.VOther].sigma, def: def}
}

package dpt

import (
	"fmt"
	"maps"
	"math"
	"slices"

	"slewbook/dpt/result"
	"slewbook/waveform"
)

// branches lists the roles of the branch currents of parallel devices that the set-up
// has named.
func (r *record) branches() []result.Role {
	var roles []result.Role
	for n := 1; n <= result.MostBranches; n++ {
		if _, ok := r.other[result.Branch(n)]; ok {
			roles = append(roles, result.Branch(n))
		}
	}
	return roles
}

// sumBranches makes the current of the device the sum of its branches where no trace
// holds it, and says so.
func (r *record) sumBranches(shot *result.Shot) {
	roles := r.branches()
	if r.i != nil || len(roles) < 2 {
		return
	}
	sum := *r.other[roles[0]]
	sum.Name, sum.Y = "sum of branches", slices.Clone(sum.Y)
	sum.Range = waveform.Range{}
	r.quantum[result.Id], r.bandwidth[result.Id] = r.quantum[roles[0]], r.bandwidth[roles[0]]
	for _, role := range roles[1:] {
		tr := r.other[role]
		for k := range sum.Y {
			sum.Y[k] += tr.At(sum.Time(k))
		}
		r.quantum[result.Id] = max(r.quantum[result.Id], r.quantum[role])
		r.bandwidth[result.Id] = min(r.bandwidth[result.Id], r.bandwidth[role])
	}
	r.i, r.summed = &sum, true
	shot.Corrections = append(shot.Corrections, result.Correction{Channel: result.Id, Kind: "sum", Value: float64(len(roles)), Unit: "1",
		EOn: math.NaN(), EOff: math.NaN(), Text: fmt.Sprintf("id is the sum of the %d branch currents %v", len(roles), roles)})
}

// shiftBranches moves the branches as their sum was moved.
func (m *measurer) shiftBranches() {
	if !m.r.summed || m.delays.applied == 0 {
		return
	}
	for _, role := range m.r.branches() {
		tr := *m.r.other[role]
		tr.T0 -= m.delays.applied
		m.r.other[role] = &tr
		m.shot.Traces[role] = &tr
	}
}

// parallel reads how the branches of an edge share current and energy, and how far
// apart they switch.
func (m *measurer) parallel(e *edge) {
	roles := m.r.branches()
	if e == nil || len(roles) < 2 || e.noLoad(m.full) != nil {
		return
	}
	window := m.read[energyKey(e.kind)]
	read := func(e *edge, q map[string]reading) { e.shares(roles, window, m.r.summed, q) }
	near := e.copy()
	iv := waveform.Interval{From: min(e.search.From-0.2*e.search.Duration(), e.line.over.From), To: max(e.search.To, e.line.over.To)}
	near.v, near.i = crop(e.v, iv), crop(e.i, iv)
	inputs := slices.Clone(e.inputs)
	for _, role := range roles {
		near.other[role] = crop(e.other[role], iv)
		inputs = append(inputs, m.channelSources(role, m.r.other[role], m.unseenDelayU(role))...)
	}
	found := map[string]reading{}
	read(near, found)
	lines := m.effects(near, inputs, found, func(e *edge) map[string]reading {
		q := map[string]reading{}
		read(e, q)
		return q
	})
	for _, key := range slices.Sorted(maps.Keys(found)) {
		q := found[key]
		c, _ := result.FindColumn(key)
		if !math.IsNaN(q.value) {
			q.budgeted(append(lines[key], result.Contribution{Source: noiseSource, U: q.noise, Unit: c.Unit, Effect: q.noise, Scope: result.OfReading, Basis: fromCapture}))
		}
		m.read[key] = q
	}
}

// side is what the keys of an edge end with.
func (e *edge) side() string {
	if e.kind == result.TurnOff {
		return "off"
	}
	return "on"
}

// shares reads, of each branch: its current while it conducts beside the edge, from a
// line through the stretch that the load's line was fitted to; its energy over the window
// of the edge's energy; when it passes half of that current, relative to the mean of all;
// its peak at a turn-on. And of all: the share of each, and the spread (largest less
// smallest, relative to their mean).
func (e *edge) shares(roles []result.Role, window reading, summed bool, q map[string]reading) {
	side := e.side()
	end := e.search.From
	if e.kind == result.TurnOn {
		end = e.line.over.From
	}
	currents, energies, passed := make([]reading, len(roles)), make([]reading, len(roles)), make([]reading, len(roles))
	for k, role := range roles {
		tr := e.other[role]
		line := waveform.FitLine(tr, e.line.over)
		far := (end - line.T) / e.line.over.Duration()
		currents[k] = reading{value: line.At(end), noise: line.Residual * math.Sqrt(e.grain[role].reach*(1+12*far*far)/float64(line.N)), over: e.line.over,
			def: "line through " + string(role) + " while it conducts, where the edge begins or the current has settled"}
		energies[k] = e.branchEnergy(role, window)
		passed[k] = e.branchPassage(role, currents[k])
		if e.kind == result.TurnOn {
			q["i_branch_peak."+string(role)] = e.branchPeak(role)
		}
	}
	e.spread("i_branch_"+side, "i_share_"+side, "i_spread_"+side, roles, currents, q)
	e.spread("e_branch_"+side, "", "e_spread_"+side, roles, energies, q)
	e.apart("t_branch_"+side, "t_spread_"+side, roles, passed, q)
	if e.kind == result.TurnOff && !summed {
		q["i_sum_off"] = e.sumAgainst(currents)
	}
}

// branchPeak is the largest current of a branch over the stretch of i_peak.
func (e *edge) branchPeak(role result.Role) reading {
	def := "largest sample of " + string(role) + " over the stretch of i_peak"
	iv, w := e.turningOn()
	if w != nil {
		return missing(def, w)
	}
	peak := e.peak(role, iv, def)
	peak.noise = e.grain[role].sigma
	return peak
}

func (e *edge) branchEnergy(role result.Role, window reading) reading {
	const what = "∫v·i dt of the branch over the window of the edge's energy: "
	if math.IsNaN(window.value) {
		return missing(what+window.def, firstWarning(window))
	}
	tr := e.other[role]
	r := reading{value: waveform.ProductIntegral(e.v, tr, window.over), over: window.over, def: what + window.def}
	if math.IsNaN(r.value) {
		return missing(r.def, &waveform.Warning{Code: waveform.ClippedWindow, Channel: string(role), Over: window.over, Text: fmt.Sprintf("%s is over range or missing in the window, or does not reach as far", role)})
	}
	sum, lo, hi := 0.0, 0, 0
	lo, hi = tr.Indices(window.over)
	for k := lo; k < hi; k++ {
		v := e.v.At(tr.Time(k))
		sum += math.Pow(v*e.grain[role].summed(), 2) + math.Pow(tr.Y[k]*e.grain[result.Vds].summed(), 2)
	}
	r.noise = math.Sqrt(sum) * tr.Dt
	return r
}

// branchPassage is when a branch passes half of its current.
func (e *edge) branchPassage(role result.Role, current reading) reading {
	tr := e.other[role]
	const def = "passage of half the branch's own current"
	t := waveform.FirstCrossing(tr, current.value/2, e.direction(result.Id), e.search)
	if math.IsNaN(t) {
		return missing(def, &waveform.Warning{Code: waveform.LevelNotReached, Channel: string(role), Over: e.search, Text: fmt.Sprintf("%s does not pass half of its current, %.4g A, at this %s", role, current.value/2, e.kind)})
	}
	slope, _ := local(tr, t, e.grain[role].sigma)
	return reading{value: t, noise: e.grain[role].sigma / math.Abs(slope), over: waveform.Interval{From: t, To: t}, def: def}
}

// spread leaves each branch's value under its key, its share of the sum, and the spread
// of all.
func (e *edge) spread(key, share, spread string, roles []result.Role, of []reading, q map[string]reading) {
	sum, noise, least, most := 0.0, 0.0, math.Inf(1), math.Inf(-1)
	var bad *waveform.Warning
	for k, r := range of {
		q[key+"."+string(roles[k])] = r
		sum, noise = sum+r.value, math.Hypot(noise, r.noise)
		least, most = min(least, r.value), max(most, r.value)
		if math.IsNaN(r.value) && bad == nil {
			bad = firstWarning(r)
		}
	}
	n := float64(len(of))
	const def = "largest less smallest of the branches, relative to their mean"
	if bad == nil && !(sum > 0) {
		bad = &waveform.Warning{Code: waveform.EnergyImplausible, Text: "the sum over the branches is not above zero: look at their signs and zeros"}
	}
	if bad != nil {
		q[spread] = missing(def, bad)
	} else {
		q[spread] = reading{value: (most - least) * n / sum, noise: math.Sqrt2 * noise / math.Sqrt(n) * n / sum, over: of[0].over, def: def}
	}
	if share == "" {
		return
	}
	for k, r := range of {
		name := share + "." + string(roles[k])
		if bad != nil {
			q[name] = missing("the branch's part of the sum", bad)
			continue
		}
		q[name] = reading{value: r.value / sum, noise: noise / sum, over: r.over, def: "the branch's part of the sum"}
	}
}

// apart leaves when each branch passes, relative to the mean of all, and the time from
// the first to the last.
func (e *edge) apart(key, spread string, roles []result.Role, of []reading, q map[string]reading) {
	const def = "from the first to the last branch that passes half of its current"
	mean, noise, first, last := 0.0, 0.0, math.Inf(1), math.Inf(-1)
	for _, r := range of {
		if math.IsNaN(r.value) {
			q[spread] = missing(def, firstWarning(r))
			return
		}
		mean, noise = mean+r.value/float64(len(of)), math.Hypot(noise, r.noise/math.Sqrt(float64(len(of))))
		first, last = min(first, r.value), max(last, r.value)
	}
	for k, r := range of {
		r.value -= mean
		r.def += ", relative to the mean of all"
		q[key+"."+string(roles[k])] = r
	}
	q[spread] = reading{value: last - first, noise: math.Sqrt2 * noise, over: waveform.Interval{From: first, To: last}, def: def}
}

// sumAgainst compares the branches with the total that was measured beside them.
func (e *edge) sumAgainst(of []reading) reading {
	total := waveform.FitLine(e.i, e.line.over).At(e.search.From)
	sum, noise := 0.0, 0.0
	for _, r := range of {
		sum, noise = sum+r.value, math.Hypot(noise, r.noise)
	}
	return reading{value: sum/total - 1, noise: noise / total, over: e.line.over, def: "sum of the branches over id as measured, less one, where the turn-off begins"}
}

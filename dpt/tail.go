package dpt

import (
	"fmt"
	"math"

	"slewbook/dpt/result"
	"slewbook/waveform"
)

// tailShare is the part of the turn-off energy from which what flows after the
// window's end is worth a word.
const tailShare = 0.01

// tail reads what the energy window at turn-off leaves out: a bipolar device goes
// on to conduct while its stored charge recombines, long after its current has
// fallen to what ends the window.
func (m *measurer) tail(e *edge) {
	cut := m.read["e_off"].over.To
	if math.IsNaN(cut) {
		for _, key := range []string{"e_tail", "q_tail", "t_tail"} {
			m.read[key] = missing("", firstWarning(m.read["e_off"]))
		}
		return
	}
	width := m.read["t_fall_i"].value
	if f := m.read["f_ring_off"].value; f > 0 {
		width = max(1/f, width)
	}
	if !(width > 0) {
		width = 10 * e.i.Dt
	}
	m.varied(e, 0, []result.Role{result.Vds, result.Id}, func(e *edge, q map[string]reading) { e.readTail(cut, width, q) })
	m.tellTail()
}

// readTail reads charge, energy and time of the current after cut, less what it
// comes to rest at, which is no tail but a leak or an error of the zero.
func (e *edge) readTail(cut, width float64, q map[string]reading) {
	over := waveform.Interval{From: cut, To: min(e.bus.over.To, e.search.To)}
	const def = "from the end of e_off's window to where a tail has gone, less what i comes to rest at"
	none := func(w *waveform.Warning) {
		for _, key := range []string{"e_tail", "q_tail", "t_tail"} {
			q[key] = missing(def, w)
		}
	}
	if !(over.Duration() > 10*width) {
		none(&waveform.Warning{Code: waveform.SettleShort, Channel: string(result.Id), Over: over,
			Text: fmt.Sprintf("only %.3g ns are left after the window's end, too few to tell a tail from what i comes to rest at", over.Duration()*1e9)})
		return
	}
	late := part(over, 0.8, 1)
	rest := state{level: waveform.Mean(e.i.Samples(late)), over: late}
	time := e.tailTime(rest, over, width)
	q["t_tail"] = time
	if t := time.over; !math.IsNaN(time.value) {
		// More than two decades past 1 %, 1e-4 of the load current is left of an exponential.
		over.To = min(over.To, max(t.To+2.2*t.Duration(), cut+10*width))
	}
	charge := waveform.Integral(e.i, over) - rest.level*over.Duration()
	energy := waveform.ProductIntegral(e.v, e.i, over) - rest.level*waveform.Integral(e.v, over)
	if math.IsNaN(charge) || math.IsNaN(energy) {
		none(e.voided(over))
		return
	}
	u, sigma := rest.u(e.i, e.grain[result.Id]), e.grain[result.Id].summed()
	charged := reading{value: charge, over: over, def: def, noise: math.Hypot(u*over.Duration(), sigma*math.Sqrt(over.Duration()*e.i.Dt))}
	lost := reading{value: energy, over: over, def: def, noise: e.bus.level * charged.noise}
	half := waveform.Mean(e.i.Samples(part(over, 0.6, 0.8))) - rest.level
	if half > 4*u && half > 0.002*e.load {
		w := &waveform.Warning{Code: waveform.SettleShort, Channel: string(result.Id), Over: late,
			Text: fmt.Sprintf("the current has not come to rest before the next edge (%.3g A more shortly before): the tail is longer, and larger, than what is seen of it", half)}
		charged.warn(w)
		lost.warn(w)
	}
	charged.draw = func(d *result.Drawing) {
		d.Lines = append(d.Lines, result.Construction{Role: result.Id, Trace: straight("what i comes to rest at", waveform.Interval{From: over.From, To: rest.over.To}, rest.level, rest.level)})
		d.Integrand = less("i - rest", e.i, over, func(float64) float64 { return rest.level })
	}
	lost.draw = func(d *result.Drawing) {
		charged.draw(d)
		d.Integrand.Name, d.Integrand.Unit = "v·(i - rest)", "W"
		for k := range d.Integrand.Y {
			d.Integrand.Y[k] *= e.v.At(d.Integrand.Time(k))
		}
	}
	q["q_tail"], q["e_tail"] = charged, lost
}

// tailTime reads the time from i 10 % to where the mean of i over a width, in which
// ringing evens out, last leaves 1 % of the load current.
func (e *edge) tailTime(rest state, over waveform.Interval, width float64) reading {
	const def = "from i 10 % to where the mean of i over the longer of its fall time and a period of the ringing falls below 1 % of the load current for good"
	from, w := e.crossing(i(10))
	if w != nil {
		return missing(def, w)
	}
	n := max(int(width/e.i.Dt), 1)
	if noise := e.grain[result.Id].summed() / math.Sqrt(float64(n)); noise > 0.003*e.load {
		return missing(def, &waveform.Warning{Code: waveform.FewBits, Channel: string(result.Id), Over: over,
			Text: fmt.Sprintf("1 %% of the load current is %.3g A, which the noise of id hides (%.2g A in the mean of %d samples)", 0.01*e.load, noise, n)})
	}
	lo, hi := e.i.Indices(waveform.Interval{From: from, To: over.To})
	sum, last := 0.0, math.NaN()
	for k := lo; k < hi; k++ {
		sum += e.i.Y[k] - rest.level
		if k-lo >= n {
			sum -= e.i.Y[k-n] - rest.level
		}
		if k-lo >= n-1 && sum/float64(n) > 0.01*e.load {
			last = e.i.Time(k) - float64(n-1)/2*e.i.Dt
		}
	}
	if !(last >= from) {
		last = from // a fall with nothing behind it, within the width
	}
	return reading{value: last - from, over: waveform.Interval{From: from, To: last}, def: def, noise: math.Hypot(e.i.Dt, width/math.Sqrt(12)), draw: func(d *result.Drawing) {
		mean := &waveform.Trace{Name: "mean of i", T0: e.i.Time(lo), Dt: e.i.Dt}
		sum := 0.0
		for k := lo; k < hi; k++ {
			if sum += e.i.Y[k]; k-lo >= n {
				sum -= e.i.Y[k-n]
			}
			if k-lo == n-1 {
				mean.T0 = e.i.Time(k) - float64(n-1)/2*e.i.Dt
			}
			if k-lo >= n-1 {
				mean.Y = append(mean.Y, sum/float64(n))
			}
		}
		one := rest.level + 0.01*e.load
		d.Lines = append(d.Lines, result.Construction{Role: result.Id, Trace: mean},
			result.Construction{Role: result.Id, Trace: straight("1 %", over, one, one)})
	}}
}

// tellTail warns at the turn-off energy where a tail lies past its window.
func (m *measurer) tellTail() {
	lost, whole, t, fall := m.read["e_tail"], m.read["e_off"], m.read["t_tail"], m.read["t_fall_i"]
	if !(lost.value > tailShare*whole.value && lost.value > 2*lost.u && t.value > 2*fall.value && t.value > 3*t.u) {
		return
	}
	whole.warn(&waveform.Warning{Code: waveform.CurrentTail, Channel: string(result.Id), Over: lost.over,
		Text: fmt.Sprintf("the current has a tail, %.3g ns from 10 to 1 %%: %s more (%+.1f %%) are lost after the end of the window", t.value*1e9, joules(lost.value), 100*lost.value/whole.value)})
	m.read["e_off"] = whole
}

// settling reads when the ringing of a signal has died down to within 5 % of its
// base (settling duration of IEEE 181, from its mesial crossing; band: ours).
func (e *edge) settling(role result.Role, base float64, level waveform.Line) reading {
	tr, _ := e.trace(role)
	def := "from the crossing of 50 % to where the signal stays within 5 % of its base"
	from, w := e.crossing(result.Limit{Signal: role, Percent: 50})
	if w != nil {
		return missing(def, w)
	}
	over := waveform.Interval{From: from, To: part(e.search, 0, 0.9).To}
	band, last := 0.05*base, math.NaN()
	lo, hi := tr.Indices(over)
	start, ramp := level.At(tr.Time(lo)), level.Slope*tr.Dt
	for k := lo; k < hi; k++ {
		y := tr.Y[k] - (start + ramp*float64(k-lo))
		if y-y != 0 {
			return missing(def, &waveform.Warning{Code: waveform.ClippedWindow, Channel: string(role), Over: over,
				Text: fmt.Sprintf("%s is over range or missing at %s, before it settles", role, at(tr.Time(k)))})
		}
		if math.Abs(y) > band {
			last = tr.Time(k)
		}
	}
	if 3*e.grain[role].sigma > band || !(last < part(over, 0, 0.95).To) {
		return missing(def, &waveform.Warning{Code: waveform.SettleShort, Channel: string(role), Over: over,
			Text: fmt.Sprintf("%s does not stay within 5 %% of its base (%.3g %s) before the next edge", role, band, role.Unit())})
	}
	return reading{value: last - from, over: waveform.Interval{From: from, To: last}, def: def, noise: tr.Dt, draw: func(d *result.Drawing) {
		for _, side := range []float64{1, -1} {
			edge := sampled("band of 5 %", waveform.Interval{From: from, To: over.To}, 50, func(t float64) float64 { return level.At(t) + side*band })
			d.Lines = append(d.Lines, result.Construction{Role: role, Trace: edge})
		}
	}}
}

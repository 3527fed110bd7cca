package dpt

import (
	"fmt"
	"math"

	"slewbook/dpt/result"
	"slewbook/waveform"
)

// lobe is the reverse current of the freewheeling device at a turn-on, where it is
// measured; else as far as the current of the device under test tells it: what flows
// beyond the load current. The charge of the partner's capacitance, and of whatever lies parallel
// to the load, is in it and cannot be told apart.
type lobe struct {
	x     *waveform.Trace // i less the load current, from half of it on [A]
	load  *waveform.Trace // that load current [A]
	start float64         // when it first exceeds zero [s]
	top   float64         // when it is largest [s]
	back  float64         // when it first returns to zero [s], NaN if it does not
	peak  float64         // [A]
	role  result.Role     // whose current it was read from: id, or i_other where that is measured
	slope *waveform.Trace // that current where it passes zero, as it rises [A]
}

// capacitive says what no reading of a lobe can leave out.
const capacitive = "capacitive charge included (of a Schottky diode or a GaN transistor it is all of it)"

// newLobe follows the current above the load current, which goes on with the
// voltage across the load, until it is back and as long again.
func (e *edge) newLobe() (lobe, *waveform.Warning) {
	from, w := e.crossing(i(50))
	if w != nil {
		return lobe{}, w
	}
	lo, hi := e.i.Indices(waveform.Interval{From: from, To: e.search.To})
	x := *e.i
	x.T0, x.Y = e.i.Time(lo), make([]float64, 0, hi-lo)
	under := &waveform.Trace{Name: "load current", Unit: "A", T0: x.T0, Dt: x.Dt}
	l := lobe{role: result.Id, slope: e.i, x: &x, load: under, start: math.NaN(), top: math.NaN(), back: math.NaN()}
	slope := e.line.line.Slope / (e.line.bus - e.line.vOn)
	load, past := e.load, false
	partner := e.other[result.IOther]
	if partner != nil {
		l.role, l.slope = result.IOther, &x
	}
	for k := lo; k < hi; k++ {
		t := e.i.Time(k)
		if t > l.back+(l.back-l.start) {
			break
		}
		if v := e.v.At(t); v == v {
			load += slope * (e.bus.level - v) * e.i.Dt
		}
		y := e.i.Y[k] - load
		if partner != nil {
			y = -partner.At(t)
		}
		if y-y != 0 {
			return l, &waveform.Warning{Code: waveform.ClippedWindow, Channel: string(l.role), Over: waveform.Interval{From: from, To: t},
				Text: fmt.Sprintf("%s is over range or missing at %s, in the recovery", l.role, at(t))}
		}
		last := 0.0
		if n := len(x.Y); n > 0 {
			last = x.Y[n-1]
		}
		x.Y, under.Y = append(x.Y, y), append(under.Y, load)
		switch {
		case math.IsNaN(l.start) && y > 0:
			l.start = t - e.i.Dt*y/(y-last)
		case math.IsNaN(l.back) && last > 0 && y <= 0:
			l.back = t - e.i.Dt*y/(y-last)
		}
		past = past || l.peak > 0 && y < 0.25*l.peak
		if y > l.peak && !past && math.IsNaN(l.back) {
			l.peak, l.top = y, t
		}
	}
	if !past {
		return l, &waveform.Warning{Code: waveform.LevelNotReached, Channel: string(result.Id), Over: waveform.Interval{From: from, To: e.search.To},
			Text: "the current does not rise above the load current and come back to it: no recovery can be told from it"}
	}
	return l, nil
}

// recoveryRule is one of the ways to say where a recovery ends: at the first
// return to zero (neither a nor b), at a fall to the part a of the peak (no b),
// or where the straight line through the falls to a and b meets zero.
type recoveryRule struct {
	name string
	a, b float64
	def  string
}

// The first is the one that the plain columns have. All start where the reverse
// current passes zero. (JEDEC dictionary, t_rr, which knows all three ways; the
// points 0.75 and 0.50: sheets of several makers; 0.25 of the peak: sheets of
// small diodes; all text seen. The points 0.90 and 0.25: IEC 60747-2, from memory.
// The thresholds 10 and 2 %: common practice.)
var recoveryRules = []recoveryRule{
	{"zero", 0, 0, "first return to zero"},
	{"line-90-25", 0.90, 0.25, "line through 90 and 25 % of the peak, drawn on to zero"},
	{"line-75-50", 0.75, 0.50, "line through 75 and 50 % of the peak, drawn on to zero"},
	{"i25", 0.25, 0, "fall to 25 % of the peak"},
	{"i10", 0.10, 0, "fall to 10 % of the peak"},
	{"i2", 0.02, 0, "fall to 2 % of the peak"},
}

// byRule lists the quantities that depend on where the recovery ends.
var byRule = []string{"t_rr", "q_rr", "s_rr", "e_rr"}

// end returns where the recovery ends by a rule [s], NaN if it does not.
func (l lobe) end(r recoveryRule) float64 {
	fall := func(part float64) float64 {
		return waveform.FirstCrossing(l.x, part*l.peak, waveform.Falling, waveform.Interval{From: l.top, To: l.x.Span().To})
	}
	switch {
	case r.a == 0:
		return l.back
	case r.b == 0:
		return fall(r.a)
	}
	a, b := fall(r.a), fall(r.b)
	return b + (b-a)*r.b/(r.a-r.b)
}

// draw shows the load current under the lobe, and the line or the threshold that
// tells its end by a rule.
func (l lobe) draw(r recoveryRule, d *result.Drawing) {
	on := func(name string, from, to, y0, y1 float64) {
		iv := waveform.Interval{From: from, To: to}
		tr := sampled(name, iv, 20, func(t float64) float64 { return l.load.At(t) + y0 + (y1-y0)*(t-from)/iv.Duration() })
		d.Lines = append(d.Lines, result.Construction{Role: result.Id, Trace: tr})
	}
	d.Lines = append(d.Lines, result.Construction{Role: result.Id, Trace: l.load})
	end := min(l.end(r), l.load.Span().To)
	mark := func(label string, t, y float64) {
		d.Marks = append(d.Marks, result.Mark{Role: result.Id, Label: label, T: t, Y: l.load.At(t) + y})
	}
	mark("zero", l.start, 0)
	mark("peak", l.top, l.peak)
	switch {
	case r.b > 0:
		// From the peak's height down to zero along the line.
		begin := end - l.peak*(end-l.end(recoveryRule{a: r.a}))/(r.a*l.peak)
		on(fmt.Sprintf("line through %g and %g %%", 100*r.a, 100*r.b), begin, end, l.peak, 0)
		mark(fmt.Sprintf("%g %%", 100*r.a), l.end(recoveryRule{a: r.a}), r.a*l.peak)
		mark(fmt.Sprintf("%g %%", 100*r.b), l.end(recoveryRule{a: r.b}), r.b*l.peak)
		mark("end", end, 0)
	case r.a > 0:
		on(fmt.Sprintf("%g %% of the peak", 100*r.a), l.start, end, r.a*l.peak, r.a*l.peak)
		mark("end", end, r.a*l.peak)
	default:
		mark("end", end, 0)
	}
}

// endNoise is what a standard deviation sigma of one sample does to that end [s].
func (l lobe) endNoise(r recoveryRule, sigma float64) float64 {
	passed := func(level float64, rule recoveryRule) float64 {
		slope, _ := local(l.x, l.end(rule), sigma)
		return sigma / math.Abs(slope)
	}
	if r.b == 0 {
		return passed(r.a, r)
	}
	// The end lies at a + (b - a)·a/(a - b), in fractions of the peak.
	g := r.a / (r.a - r.b)
	return math.Hypot((g-1)*passed(r.a, recoveryRule{a: r.a}), g*passed(r.b, recoveryRule{a: r.b}))
}

// endPassages are the instants that the end by a rule is made of, for a reading
// that changes by weight with the end.
func (l lobe) endPassages(r recoveryRule, weight float64) []passage {
	if r.b == 0 {
		return []passage{{l.x, l.end(r), weight}}
	}
	g := r.a / (r.a - r.b)
	return []passage{{l.x, l.end(recoveryRule{a: r.a}), (1 - g) * weight}, {l.x, l.end(recoveryRule{a: r.b}), g * weight}}
}

// recovery reads the recovery of the freewheeling device by every rule: peak,
// time, charge, softness, slopes and energy.
func (e *edge) recovery(q map[string]reading) {
	l, w := e.newLobe()
	if w != nil {
		for _, key := range []string{"i_rrm", "didt_f", "didt_rr", "rrsf"} {
			q[key] = missing("", w)
		}
		for _, key := range byRule {
			q[key] = missing("", w)
			for _, r := range recoveryRules {
				q[key+"."+r.name] = q[key]
			}
		}
		q["q_rr.triangle"] = q["q_rr"]
		return
	}
	top := reading{value: l.peak, form: extremeForm, role: result.Id, looked: waveform.Interval{From: l.start, To: l.back}, over: waveform.Interval{From: l.top, To: l.top}, def: "largest i above the load current, " + capacitive,
		draw: func(d *result.Drawing) {
			d.Lines = append(d.Lines, result.Construction{Role: result.Id, Trace: l.load}, result.Construction{Role: result.Id,
				Trace: straight("i_rr", waveform.Interval{From: l.top, To: l.top + l.x.Dt/1000}, l.load.At(l.top), l.load.At(l.top)+l.peak)})
		}}
	if l.role == result.IOther { // whose extreme is a smallest sample
		top.form, top.role, top.noise, top.def = someForm, "", e.grain[l.role].sigma, "largest reverse current by i_other, "+capacitive
	}
	top.warn(fewAtTop(l.role, l.x, l.top, 0))
	q["i_rrm"] = top
	e.recoverySlopes(l, q)
	for _, r := range recoveryRules {
		e.recoveryBy(r, l, q)
	}
	half := q["t_rr.line-75-50"]
	half.def = "½·t_rr·I_RRM, t_rr by the " + recoveryRules[2].def
	half.value *= l.peak / 2
	half.noise *= l.peak / 2
	q["q_rr.triangle"] = half
	for _, key := range byRule {
		q[key] = q[key+"."+recoveryRules[0].name]
	}
	q["e_rr"] = q["e_rr.i2"]
}

// recoveryBy reads what depends on where the recovery ends.
func (e *edge) recoveryBy(r recoveryRule, l lobe, q map[string]reading) {
	end, sigma := l.end(r), e.grain[l.role].sigma
	over := waveform.Interval{From: l.start, To: end}
	base := reading{value: math.NaN(), over: over, def: "from zero to the " + r.def, draw: func(d *result.Drawing) { l.draw(r, d) }}
	if l.role == result.IOther {
		base.def += "; i_other as measured"
	}
	if !(end > l.top) {
		none := missing(base.def, &waveform.Warning{Code: waveform.LevelNotReached, Channel: string(result.Id), Over: waveform.Interval{From: l.start, To: l.x.Span().To},
			Text: fmt.Sprintf("the reverse current of the freewheeling device, %.4g A at most, has no %s", l.peak, r.def)})
		for _, key := range byRule {
			q[key+"."+r.name] = none
		}
		return
	}
	base.warn(l.few())
	rise, _ := local(l.slope, l.start, sigma)
	first, last := sigma/math.Abs(rise), l.endNoise(r, sigma)
	n := math.Sqrt(over.Duration() / l.x.Dt)

	t := base
	t.value, t.noise = over.Duration(), math.Hypot(first, last)
	t.passed = append([]passage{{l.slope, l.start, -1}}, l.endPassages(r, 1)...)
	q["t_rr."+r.name] = t

	charge := base
	charge.def += ", " + capacitive
	charge.value, charge.noise = waveform.Integral(l.x, over), n*e.grain[l.role].summed()*l.x.Dt
	charge.missed = missedPeak(l.x, l.top, sigma) * l.x.Dt / 2
	if math.IsNaN(charge.value) {
		charge.warn(e.unknownRecovery(over, l))
	}
	charge.draw = func(d *result.Drawing) {
		l.draw(r, d)
		d.Integrand = less("i_rr", l.x, l.x.Span(), func(float64) float64 { return 0 })
	}
	q["q_rr."+r.name] = charge

	soft := base
	soft.def = "t_b/t_a, t_b from the peak to the " + r.def
	a, b := l.top-l.start, end-l.top
	soft.value = b / a
	// The top of a peak is told no better than to where noise hides its curvature.
	flat := e.topNoise(l)
	soft.noise = soft.value * math.Hypot(math.Hypot(first/a, last/b), flat*(1/a+1/b))
	soft.passed = append([]passage{{l.slope, l.start, b / (a * a)}}, l.endPassages(r, 1/a)...)
	q["s_rr."+r.name] = soft

	q["e_rr."+r.name] = e.recoveryEnergy(base, l)
}

// few warns where the lobe, from zero to its return to zero, holds too few samples.
func (l lobe) few() *waveform.Warning {
	over := waveform.Interval{From: l.start, To: l.back}
	if n := over.Duration() / l.x.Dt; n < minEdgeSamples {
		return &waveform.Warning{Code: waveform.FewSamples, Channel: string(l.role), Over: over,
			Text: fmt.Sprintf("only %.1f samples in the recovery, from zero to its return to zero; sample at %.2g GS/s or more", n, 2*minEdgeSamples/over.Duration()*1e-9)}
	}
	return nil
}

// topNoise is how well the instant of the peak is known [s]: half a sample, or as
// far as the current stays within its noise of it.
func (e *edge) topNoise(l lobe) float64 {
	k := int(math.Round(l.x.Pos(l.top)))
	near := l.peak - 2*e.grain[l.role].sigma
	lo, hi := k, k
	for lo > 0 && l.x.Y[lo-1] > near {
		lo--
	}
	for hi+1 < len(l.x.Y) && l.x.Y[hi+1] > near {
		hi++
	}
	return float64(hi-lo+1) * l.x.Dt / 2 / math.Sqrt(3)
}

// recoveryEnergy reads ∫ v_other·i_rr dt with the freewheeling device's voltage as it
// was measured, counted positive where it blocks; else derived from the bus,
//
//	v_other = v_bus - v - L·di/dt
//
// The loop's part of it is ½L(i_rr²(end) - i_rr²(start)), which is nothing from
// zero to where the reverse current has gone, so that no inductance need be known.
func (e *edge) recoveryEnergy(q reading, l lobe) reading {
	voltage := result.Vds
	name, other := "(v_bus - v)·i_rr", func(t float64) float64 { return e.bus.level - e.v.At(t) }
	if e.other[result.VOther] != nil {
		voltage, name, other = result.VOther, "v_other · i_rr", e.other[result.VOther].At
		q.def += "; v_other as measured"
		q.value = waveform.ProductIntegral(e.other[result.VOther], l.x, q.over)
	} else {
		q.def += "; v_other derived as v_bus - v, the loop's L·di/dt left in, whose part is ½·L·i² at the end"
		q.value = e.bus.level*waveform.Integral(l.x, q.over) - waveform.ProductIntegral(e.v, l.x, q.over)
	}
	if e.again {
		return q
	}
	lo, hi := l.x.Indices(q.over)
	noise, sv, si := 0.0, e.grain[voltage].summed(), e.grain[l.role].summed()
	for k := lo; k < hi; k++ {
		v := other(l.x.Time(k))
		noise += l.x.Y[k]*l.x.Y[k]*sv*sv + v*v*si*si
	}
	q.noise = math.Sqrt(noise) * l.x.Dt
	q.missed = missedPeak(l.x, l.top, e.grain[l.role].sigma) * l.x.Dt / 2 * math.Abs(other(l.top))
	lines := q.draw
	q.draw = func(d *result.Drawing) {
		lines(d)
		d.Integrand = less(name, l.x, l.x.Span(), func(float64) float64 { return 0 })
		d.Integrand.Unit = "W"
		for k := range d.Integrand.Y {
			d.Integrand.Y[k] *= other(d.Integrand.Time(k))
		}
	}
	if math.IsNaN(q.value) {
		q.warn(e.unknownRecovery(q.over, l))
	}
	return q
}

// unknownRecovery tells why an integral over the recovery has no value.
func (e *edge) unknownRecovery(over waveform.Interval, l lobe) *waveform.Warning {
	if over.To > l.x.Span().To {
		return &waveform.Warning{Code: waveform.NotInRecord, Channel: string(l.role), Over: over,
			Text: fmt.Sprintf("the recovery ends by this rule at %s, behind the record or too long after the current is back to be its own", at(over.To))}
	}
	return &waveform.Warning{Code: waveform.ClippedWindow, Over: over,
		Text: "the voltage is over range or missing in the recovery, so that of the freewheeling device is not known"}
}

// recoverySlopes reads di/dt where the current passes zero, the steepest fall
// after the peak, and the softness that is their ratio (JEDEC dictionary, which
// prefers it to t_b/t_a, text seen).
func (e *edge) recoverySlopes(l lobe, q map[string]reading) {
	dt := l.x.Dt
	reach := max((l.top-l.start)/4, 1.5*dt)
	over := waveform.Interval{From: max(l.start-reach, l.slope.T0), To: l.start + reach}
	rise := waveform.FitLine(l.slope, over)
	f := reading{value: rise.Slope, form: fitForm, role: l.role, fitted: rise.N, over: over,
		def: "line through the samples around where i passes the load current"}
	f.draw = func(d *result.Drawing) {
		under := 0.0 // where the line is that of i itself
		if l.role == result.IOther {
			under = l.load.At(l.start)
		}
		d.Lines = append(d.Lines, result.Construction{Role: result.Id, Trace: extended("line at zero", over, under+rise.At(over.From), under+rise.At(over.To), 1)})
	}
	end := l.end(recoveryRules[3])
	n := max(int((end-l.top)/dt/5), 3)
	fall := waveform.SteepestFit(l.x, waveform.Interval{From: l.top, To: end + float64(n)*dt}, n, waveform.Falling)
	half := float64(n-1) / 2 * dt
	r := reading{value: math.Abs(fall.Slope), form: fitForm, role: l.role, fitted: n, over: waveform.Interval{From: fall.T - half, To: fall.T + half},
		def: "steepest line through a fifth of the samples of the fall after the peak, at least 3"}
	r.draw = func(d *result.Drawing) {
		line := extended("steepest fall", r.over, fall.At(r.over.From), fall.At(r.over.To), 2)
		for k := range line.Y {
			line.Y[k] += l.load.At(fall.T)
		}
		d.Lines = append(d.Lines, result.Construction{Role: result.Id, Trace: line})
	}
	s := reading{value: f.value / r.value, over: waveform.Interval{From: over.From, To: r.over.To}, def: "di/dt at zero over the steepest di/dt after the peak",
		of: []share{{f, 1 / r.value}, {r, f.value / (r.value * r.value)}}}
	s.draw = func(d *result.Drawing) {
		f.draw(d)
		r.draw(d)
	}
	for key, x := range map[string]reading{"didt_f": f, "didt_rr": r, "rrsf": s} {
		if !(x.value > 0) || math.IsInf(x.value, 0) {
			x = missing(x.def, &waveform.Warning{Code: waveform.FewSamples, Channel: string(result.Id), Over: over,
				Text: "the recovery holds too few samples, or too much noise, to take a slope of it"})
		}
		q[key] = x
	}
}

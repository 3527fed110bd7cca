package dpt

import (
	"fmt"
	"math"
	"slices"

	"slewbook/dpt/result"
	"slewbook/waveform"
)

// Ringing is best read once it has fallen to a part of its peak, since the
// device's capacitance, and with it the frequency, changes with a large swing;
// for so many periods at most. Where too few are left, more of it is taken, at the
// price of a larger uncertainty; never the first half period.
var (
	ringSmall = [...]float64{0.4, 0.7, 1}
	ringTo    = [...]float64{10, 5, 3} // periods
)

// fewPeriods is how many periods a fit needs; ringFloor is the part of its peak to
// which a ringing is followed where the noise allows it.
const (
	fewPeriods = 1.5
	ringFloor  = 0.03
)

// ring reads frequency and damping ratio of the ringing of a signal after the
// edge, by a least-squares fit of
//
//	y = c + exp(-α·t)·(a·cos ωt + b·sin ωt)
//
// to its decaying part: f = ω/2π as it is seen, ζ = α/√(α² + ω²). An envelope
// that does not decay is told.
func (e *edge) ring(role result.Role, level float64, from float64) (f, zeta reading) {
	tr, _ := e.trace(role)
	none := func(text string) (reading, reading) {
		w := &waveform.Warning{Code: waveform.NotInRecord, Channel: string(role), Over: e.search, Text: text}
		return missing(ringDef, w), missing(ringDef, w)
	}
	iv := waveform.Interval{From: from, To: part(e.search, 0, 0.5).To}
	if !(iv.Duration() > 0) {
		return none("the edge leaves no stretch to look for ringing on")
	}
	peak := 0.0
	for _, y := range tr.Samples(iv) {
		peak = max(peak, math.Abs(y-level))
	}
	if w := lost(role, tr, iv, "the ringing"); notFinite(peak) && w != nil {
		return missing(ringDef, w), missing(ringDef, w)
	}
	floor := max(ringFloor*peak, restSigma*e.grain[role].sigma)
	iv.To = lastBeyond(tr, level, iv, floor)
	// Half of the floor is passed once more behind the last sample that reaches it.
	period := medianGap(ringPassages(tr, level, waveform.Interval{From: iv.From, To: iv.From + 1.5*iv.Duration()}, floor))
	if !(period > 4*tr.Dt) || !(peak > 4*e.grain[role].sigma) {
		return none(fmt.Sprintf("no ringing of a period and a half stands out of the noise of %s, which sets in at %.2g %s", role, floor, role.Unit()))
	}
	iv.To += period // its end is below the noise of one sample, but not of all of them
	fit, iv := fitRinging(tr, level, iv, peak, period)
	if math.IsNaN(fit.omega) {
		return none(fmt.Sprintf("the ringing is no single decaying oscillation of %g periods and more: no fit explains half of it", fewPeriods))
	}
	q := reading{over: iv, draw: fit.draw(role, iv), def: ringDef}
	f, zeta = q, q
	f.value, zeta.value = fit.omega/(2*math.Pi), fit.alpha/math.Hypot(fit.alpha, fit.omega)
	f.budgeted(ringLines("Hz", fit.uOmega/(2*math.Pi), fit.laterOmega/(2*math.Pi)))
	zeta.budgeted(ringLines("1", fit.uAlpha/fit.omega, fit.laterAlpha/fit.omega))
	// It grows beyond doubt, or is known well enough to say that it does not decay.
	if z, u := zeta.value, 2*zeta.u; z+u < 0 || z-u <= 0 && u < 0.01 {
		zeta.warn(&waveform.Warning{Code: waveform.RingGrowing, Channel: string(role), Over: iv,
			Text: fmt.Sprintf("the ringing of %s at %.4g MHz does not decay over %.3g ns", role, f.value*1e-6, iv.Duration()*1e9)})
	}
	return f, zeta
}

// ringLines is the budget of a figure of a fitted ringing: what is left of it beside the
// fit, and by how much its later part alone gives another one. Gains and zeros are in
// neither frequency nor damping.
func ringLines(unit string, residual, later float64) []result.Contribution {
	return []result.Contribution{
		{Source: "residual of the fit", U: residual, Unit: unit, Effect: residual, Scope: result.OfReading, Basis: fromCapture},
		{Source: "change over the ringing", U: math.Abs(later), Unit: unit, Effect: later, Scope: result.OfSetup, Basis: fromCapture},
	}
}

// draw shows the fit and its envelope over iv on the trace of a role.
func (r ringFit) draw(role result.Role, iv waveform.Interval) func(d *result.Drawing) {
	amplitude := math.Hypot(r.a, r.b)
	shape := func(side float64) func(t float64) float64 {
		return func(t float64) float64 { return r.level + side*amplitude*math.Exp(-r.alpha*(t-r.from)) }
	}
	wave := func(t float64) float64 {
		sin, cos := math.Sincos(r.omega * (t - r.from))
		return r.level + math.Exp(-r.alpha*(t-r.from))*(r.a*cos+r.b*sin)
	}
	return func(d *result.Drawing) {
		for _, c := range []struct {
			name string
			y    func(t float64) float64
		}{{"fitted oscillation", wave}, {"envelope", shape(1)}, {"envelope", shape(-1)}} {
			d.Lines = append(d.Lines, result.Construction{Role: role, Trace: sampled(c.name, iv, 400, c.y)})
		}
	}
}

const ringDef = "fit of a decaying oscillation"

// fitRinging fits the ringing from where it has fallen to a small part of its
// peak, or from earlier and for fewer periods until a fit explains it.
func fitRinging(tr *waveform.Trace, level float64, iv waveform.Interval, peak, period float64) (fit ringFit, over waveform.Interval) {
	for _, small := range ringSmall {
		from := iv.From + period/2
		if t := lastBeyond(tr, level, iv, small*peak); t > from {
			from = t
		}
		for _, periods := range ringTo {
			over := waveform.Interval{From: from, To: min(iv.To, from+periods*period)}
			if over.Duration() < fewPeriods*period {
				break
			}
			fit := fitRing(tr, over, 2*math.Pi/period)
			if !(fit.residual < 0.5*fit.amplitude) {
				continue
			}
			// The residual does not know of a frequency that changes on the way; the
			// later part of the ringing does.
			later := fitRing(tr, part(over, 0.3, 1), fit.omega)
			fit.laterOmega, fit.laterAlpha = later.omega-fit.omega, later.alpha-fit.alpha
			if off := math.Abs(fit.omega*period/(2*math.Pi) - 1); !(off < 0.4) || !(math.Hypot(fit.uOmega, fit.laterOmega) < 0.1*fit.omega) {
				continue // no ringing that could be seen to pass its level
			}
			return fit, over
		}
	}
	return ringFit{omega: math.NaN()}, iv
}

// ringPassages returns when a signal passes through a band around the level, down
// and up by turns.
func ringPassages(tr *waveform.Trace, level float64, iv waveform.Interval, band float64) (down, up []float64) {
	side := 0.0
	lo, hi := tr.Indices(iv)
	for k := lo; k < hi; k++ {
		y := tr.Y[k] - level
		if !(math.Abs(y) > band/2) || y*side > 0 {
			continue
		}
		switch {
		case side > 0:
			down = append(down, tr.Time(k))
		case side < 0:
			up = append(up, tr.Time(k))
		}
		side = y
	}
	return down, up
}

// medianGap returns the median distance between neighbours of either list, NaN if
// neither has two.
func medianGap(a, b []float64) float64 {
	var gaps []float64
	for _, ts := range [][]float64{a, b} {
		for k := 1; k < len(ts); k++ {
			gaps = append(gaps, ts[k]-ts[k-1])
		}
	}
	if len(gaps) == 0 {
		return math.NaN()
	}
	slices.Sort(gaps)
	return gaps[len(gaps)/2]
}

// lastBeyond returns the last instant in iv at which a signal is farther from the
// level than swing, NaN if it never is.
func lastBeyond(tr *waveform.Trace, level float64, iv waveform.Interval, swing float64) float64 {
	lo, hi := tr.Indices(iv)
	for k := hi - 1; k >= lo; k-- {
		if math.Abs(tr.Y[k]-level) > swing {
			return tr.Time(k)
		}
	}
	return math.NaN()
}

// ringing reads the ringing after the edge: of v after a turn-off, of i, without
// the load's ramp under it, after a turn-on.
func (m *measurer) ringing(e *edge) {
	if e.kind == result.TurnOff {
		from := waveform.FirstCrossing(e.v, e.bus.level, waveform.Rising, e.search)
		m.read["f_ring_off"], m.read["zeta_off"] = e.ring(result.Vds, e.bus.level, from)
		m.varied(e, 0, []result.Role{result.Vds}, func(e *edge, q map[string]reading) {
			q["t_settle_off"] = e.settling(result.Vds, e.bus.level, waveform.Line{Y0: e.bus.level})
		})
		m.tail(e)
		m.loops(e)
		return
	}
	m.varied(e, 0, []result.Role{result.Id}, func(e *edge, q map[string]reading) { q["t_settle_on"] = e.settling(result.Id, e.load, e.line.line) })
	flat := *e
	flat.i = e.withoutRamp()
	from := m.read["t_rr"].over.To
	f, zeta := flat.ring(result.Id, 0, from)
	m.read["f_ring_on"], m.read["zeta_on"] = e.onRamp(f), e.onRamp(zeta)
}

// onRamp draws what was read without the load line on top of it, where the trace is.
func (e *edge) onRamp(q reading) reading {
	if q.draw == nil {
		return q
	}
	flat := q.draw
	q.draw = func(d *result.Drawing) {
		flat(d)
		for _, c := range d.Lines {
			for k := range c.Trace.Y {
				c.Trace.Y[k] += e.line.line.At(c.Trace.Time(k))
			}
		}
	}
	return q
}

// withoutRamp returns the current less the load line, from the edge on.
func (e *edge) withoutRamp() *waveform.Trace {
	lo, hi := e.i.Indices(e.search)
	out := *e.i
	out.T0, out.Y = e.i.Time(lo), make([]float64, hi-lo)
	for k := range out.Y {
		out.Y[k] = e.i.Y[lo+k] - e.line.line.At(e.i.Time(lo+k))
	}
	return &out
}

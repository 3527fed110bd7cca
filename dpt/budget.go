package dpt

import (
	"fmt"
	"maps"
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

// source is one input of the measurement that is known with a standard
// uncertainty u, and what an error x of it does to an edge.
type source struct {
	name string
	u    float64
	move func(e *edge, x float64)
}

// budget gives every reading of an edge its standard uncertainty: the law of
// propagation (JCGM 100, 5.1.2, from memory) with sensitivities by
// reading the edge again with each input moved by its uncertainty either way; and
// what noise, quantisation and sampling do to the places where a level is passed.
// Inputs are uncorrelated; one that acts on several quantities of the edge, as a
// gain or the delay, acts on each with its sign.
func (m *measurer) budget(e *edge, read map[string]reading) {
	near := e.near(read)
	parts := map[string]map[string]float64{}
	add := func(key, name string, u float64) {
		if parts[key] == nil {
			parts[key] = map[string]float64{}
		}
		parts[key][name] = math.Hypot(parts[key][name], u)
	}
	for _, s := range m.sources(e) {
		if !(s.u > 0) {
			continue
		}
		up, down := near.copy(), near.copy()
		s.move(up, s.u)
		s.move(down, -s.u)
		plus, minus := m.readEdge(up, true), m.readEdge(down, true)
		for key, q := range read {
			add(key, s.name, moved(q.value, plus[key].value, minus[key].value))
		}
	}
	// In order, since what is assumed is noted as it is met.
	for _, key := range slices.Sorted(maps.Keys(read)) {
		q := read[key]
		add(key, "noise and bits", e.noiseOf(key, q))
		add(key, "sampling", e.samplingOf(key, q))
		add(key, "bandwidth", m.bandwidthOf(e, key, q))
		q.u, q.dominant = total(parts[key])
		m.read[key] = q
	}
	key := energyKey(e.kind)
	q := m.read[key]
	same := m.read[key+"."+q.def]
	q.u, q.dominant = same.u, same.dominant
	m.read[key] = q
}

// moved is the root mean square of what an input moved by plus and minus its
// uncertainty does to a value, so that a level on a flat stretch, which is then
// passed elsewhere, counts for what it does. A side on which there is no value
// is left out.
func moved(value, plus, minus float64) float64 {
	p, q := plus-value, minus-value
	switch {
	case math.IsNaN(p):
		return math.Abs(q)
	case math.IsNaN(q):
		return math.Abs(p)
	}
	return math.Sqrt((p*p + q*q) / 2)
}

// total combines the contributions, and names the largest with its share.
func total(parts map[string]float64) (u float64, dominant string) {
	sum, most := 0.0, 0.0
	// In order, so that the last digit of the sum is the same every time.
	for _, name := range slices.Sorted(maps.Keys(parts)) {
		c := parts[name]
		if math.IsNaN(c) {
			return 0, ""
		}
		sum += c * c
		if c > most {
			most, dominant = c, name
		}
	}
	if sum > 0 {
		dominant = fmt.Sprintf("%s, %.0f %%", dominant, 100*most*most/sum)
	}
	return math.Sqrt(sum), dominant
}

// near returns the edge with its traces cut to what its readings need, so that
// it can be read again at little cost.
func (e *edge) near(read map[string]reading) *edge {
	iv := waveform.Interval{From: min(e.search.From, e.gate.From), To: e.search.From}
	for _, q := range read {
		// Levels and load lines are read far away, but are kept as they are.
		if q.over.From >= e.search.From-1e-9 && q.over.To < e.search.To && q.over.Duration() >= 0 && (q.ends != nil || q.beside) {
			iv.To = max(iv.To, q.over.To)
		}
	}
	for _, key := range []string{"v_peak", "i_peak"} {
		if q, ok := read[key]; ok && q.over.To < e.search.To {
			iv.To = max(iv.To, q.over.To)
		}
	}
	d := max(iv.Duration(), 20*e.v.Dt)
	iv = waveform.Interval{From: iv.From - 0.5*d, To: min(iv.To+0.5*d, e.search.To)}
	n := e.copy()
	n.v, n.i, n.g = crop(e.v, iv), crop(e.i, iv), crop(e.g, iv)
	n.search.To, n.gate.To = iv.To, iv.To
	return n
}

func (e *edge) copy() *edge {
	n := *e
	for _, tr := range []**waveform.Trace{&n.v, &n.i, &n.g} {
		if *tr != nil {
			t := **tr
			*tr = &t
		}
	}
	return &n
}

// crop returns the part of a trace inside iv, without copying samples.
func crop(tr *waveform.Trace, iv waveform.Interval) *waveform.Trace {
	if tr == nil {
		return nil
	}
	lo, hi := tr.Indices(iv)
	out := *tr
	out.T0, out.Y = tr.Time(lo), tr.Y[lo:hi]
	return &out
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

// sources lists the inputs of an edge with their uncertainties: from the set-up,
// else from the capture, else assumed.
func (m *measurer) sources(e *edge) []source {
	return []source{
		{"gain of vds", m.gainU(result.Vds), func(e *edge, x float64) {
			e.v, e.bus.level = change(e.v, 1+x, 0), e.bus.level*(1+x)
		}},
		{"zero of vds", m.offsetU(result.Vds, m.r.v), func(e *edge, x float64) {
			e.v, e.bus.level = change(e.v, 1, x), e.bus.level+x
		}},
		{"gain of id", m.gainU(result.Id), func(e *edge, x float64) {
			e.i, e.load = change(e.i, 1+x, 0), e.load*(1+x)
		}},
		{"zero of id", m.zeroU(), func(e *edge, x float64) {
			e.i, e.load = change(e.i, 1, x), e.load+x
		}},
		{"delay of id", m.delays.u(), func(e *edge, x float64) { e.i.T0 += x }},
		{"level of the bus", e.bus.u(m.r.v), func(e *edge, x float64) { e.bus.level += x }},
		{"load current", e.loadU(), func(e *edge, x float64) { e.load += x }},
	}
}

// u is the standard uncertainty of the delay that is left in the traces: that of
// the estimate, and the whole of a delay that is seen and was left in.
func (d delays) u() float64 {
	switch left := d.left(); {
	case d.mode == AlignOff, math.IsNaN(left):
		return defaultDelay
	case !d.current.sure:
		return max(defaultDelay, math.Abs(left))
	default:
		return math.Hypot(d.current.u, left)
	}
}

func (m *measurer) gainU(role result.Role) float64 {
	if u := m.opt.Channels[role].GainU; u > 0 {
		return u
	}
	m.assume("gain of %s known to %s (k = 1)", role, unit.Format(defaultGainU, "1", 2))
	return defaultGainU
}

func (m *measurer) offsetU(role result.Role, tr *waveform.Trace) float64 {
	if u := m.opt.Channels[role].OffsetU; u > 0 {
		return u
	}
	ch := describe(tr)
	u := defaultOffsetU * (ch.Max - ch.Min)
	m.assume("zero of %s known to %s (k = 1), %s of its span", role, unit.Format(u, role.Unit(), 2), unit.Format(defaultOffsetU, "1", 2))
	return u
}

// zeroU is the uncertainty of the current's zero: as read off, with its drift;
// where it was not read, that of the channel.
func (m *measurer) zeroU() float64 {
	if math.IsNaN(m.zero.level) || m.opt.KeepZero {
		return m.offsetU(result.Id, m.r.i)
	}
	u := m.zero.u(m.r.i)
	if d := m.drift; d == d {
		u = math.Hypot(u, d/math.Sqrt(3))
	}
	return u
}

// assume notes once what was assumed.
func (m *measurer) assume(format string, args ...any) {
	text := fmt.Sprintf(format, args...)
	for _, a := range m.shot.Assumed {
		if a == text {
			return
		}
	}
	m.shot.Assumed = append(m.shot.Assumed, text)
}

// u is the standard uncertainty of a level read on a stretch: of the mean of its
// samples, of what its two halves differ by, and of a quantisation step where
// the noise is too small to average it out.
func (s state) u(tr *waveform.Trace) float64 {
	y := tr.Samples(s.over)
	spread := waveform.StdDev(y)
	half := waveform.Mean(y[:len(y)/2]) - waveform.Mean(y[len(y)/2:])
	u := math.Hypot(spread/math.Sqrt(float64(len(y))), half/math.Sqrt(12))
	if q := waveform.Quantum(tr.Y); spread < q/2 {
		u = math.Hypot(u, q/math.Sqrt(12))
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
	noise := l.Residual * math.Sqrt((1+12*far*far)/n)
	a, b := waveform.FitLine(e.i, part(over, 0, 0.5)), waveform.FitLine(e.i, part(over, 0.5, 1))
	bend := (a.At(e.search.From) - b.At(e.search.From)) / math.Sqrt(12)
	return math.Hypot(math.Hypot(noise, bend), besideLoad*e.load)
}

// sigma is the standard deviation of one sample: noise and quantisation.
func sigma(tr *waveform.Trace) float64 {
	return math.Hypot(pointNoise(tr.Y), waveform.Quantum(tr.Y)/math.Sqrt(12))
}

// local returns slope and curvature of a trace at t. The slope is taken over as
// many samples as it needs to stand out of noise and quantisation, the curvature
// from the four samples around t.
func local(tr *waveform.Trace, t, sigma float64) (slope, curvature float64) {
	k := int(tr.Pos(t))
	if k < 1 || k+2 >= len(tr.Y) {
		return math.NaN(), math.NaN()
	}
	enough := 6 * sigma
	for h := 0; k-h >= 0 && k+1+h < len(tr.Y); h++ {
		rise := tr.Y[k+1+h] - tr.Y[k-h]
		slope = rise / (float64(2*h+1) * tr.Dt)
		if h > 0 && math.Abs(rise) >= enough {
			break
		}
	}
	y := tr.Y[k-1 : k+3]
	return slope, (y[0] - y[1] - y[2] + y[3]) / (2 * tr.Dt * tr.Dt)
}

// atEnds combines, for a reading between two levels, what an error of the
// instants at its ends does: on a time it is that, on an average slope relative
// to the time, on an energy the power there.
func (e *edge) atEnds(q reading, instant func(tr *waveform.Trace, t, sigma float64) float64) float64 {
	if len(q.ends) != 2 || !(q.over.Duration() > 0) {
		return 0
	}
	sum := 0.0
	for k, t := range []float64{q.over.From, q.over.To} {
		tr, _ := e.trace(q.ends[k].Signal)
		if tr == nil {
			return 0
		}
		dt := instant(tr, t, e.sigma[q.ends[k].Signal])
		if q.perDelay != 0 {
			dt *= e.v.At(t) * e.i.At(t)
		}
		sum += dt * dt
	}
	u := math.Sqrt(sum)
	if q.perDelay == 0 && math.Abs(q.value-q.over.Duration()) > 1e-6*q.over.Duration() {
		u *= q.value / q.over.Duration() // an average slope
	}
	return u
}

func (e *edge) noiseOf(key string, q reading) float64 {
	u := e.atEnds(q, func(tr *waveform.Trace, t, sigma float64) float64 {
		slope, _ := local(tr, t, sigma)
		return sigma / math.Abs(slope)
	})
	switch {
	case q.noise > 0:
		u = q.noise
	case q.perDelay != 0:
		// √Σ(i²σv² + v²σi²)·dt over the window.
		sum, sv, si := 0.0, e.sigma[result.Vds], e.sigma[result.Id]
		lo, hi := e.i.Indices(q.over)
		for k := lo; k < hi; k++ {
			v := e.v.At(e.i.Time(k))
			sum += e.i.Y[k]*e.i.Y[k]*sv*sv + v*v*si*si
		}
		u = math.Hypot(u, math.Sqrt(sum)*e.i.Dt)
	case key == "v_peak":
		u = e.sigma[result.Vds]
	case key == "i_peak", key == "i_rrm":
		u = e.sigma[result.Id]
	case key == "v_overshoot":
		u = e.sigma[result.Vds] / e.bus.level
	case key == "i_overshoot":
		u = e.sigma[result.Id] / e.load
	case q.fitted > 0:
		u = e.sigma[slopeRole(key)] * math.Sqrt(12) / (math.Pow(float64(q.fitted), 1.5) * e.v.Dt)
	}
	return u
}

// slopeRole is the channel that a steepest fit was read on.
func slopeRole(key string) result.Role {
	if key == "didt_off_max" || key == "didt_on_max" {
		return result.Id
	}
	return result.Vds
}

func (e *edge) samplingOf(key string, q reading) float64 {
	// A straight line between samples misses the instant by up to
	// dt²·|y″|/(8·|y′|), and a peak by what the parabola through it has more.
	u := e.atEnds(q, func(tr *waveform.Trace, t, sigma float64) float64 {
		slope, curvature := local(tr, t, sigma)
		return tr.Dt * tr.Dt * math.Abs(curvature/slope) / 8 / math.Sqrt(3)
	})
	switch key {
	case "v_peak":
		u = missedPeak(e.v, q.over.From)
	case "i_peak", "i_rrm":
		u = missedPeak(e.i, q.over.From)
	}
	if q.perDelay != 0 {
		// What the trapezoid rule would have less.
		sum := 0.0
		lo, hi := e.i.Indices(q.over)
		for k := lo; k+1 < hi; k++ {
			sum += (e.v.At(e.i.Time(k+1)) - e.v.At(e.i.Time(k))) * (e.i.Y[k+1] - e.i.Y[k])
		}
		u = math.Hypot(u, math.Abs(sum)*e.i.Dt/6/math.Sqrt(3))
	}
	return u
}

func missedPeak(tr *waveform.Trace, t float64) float64 {
	k := int(math.Round(tr.Pos(t)))
	if k < 1 || k+1 >= len(tr.Y) {
		return math.NaN()
	}
	a, b, c := tr.Y[k-1], tr.Y[k], tr.Y[k+1]
	if !(2*b-a-c > 0) {
		return 0
	}
	return ((a-c)*(a-c)/(16*(2*b-a-c)) + (2*b-a-c)/16) / math.Sqrt(3)
}

// bandwidthOf is what the bandwidth of a channel, which is not corrected, does to
// a transition duration by root-sum-square: a one-sided error of this size.
func (m *measurer) bandwidthOf(e *edge, key string, q reading) float64 {
	switch key {
	case "v_peak":
		return m.roundedPeak(e, result.Vds, q)
	case "i_peak", "i_rrm":
		return m.roundedPeak(e, result.Id, q)
	}
	if q.perDelay != 0 {
		return m.slowedEnergy(e, q)
	}
	if len(q.ends) != 2 || q.ends[0].Signal != q.ends[1].Signal || !(q.over.Duration() > 0) {
		return 0
	}
	own := waveform.OwnRise(q.over.Duration(), m.systemRise(e, q.ends[0].Signal))
	if math.IsNaN(own) {
		return math.Abs(q.value)
	}
	return math.Abs(q.value) * (q.over.Duration()/own - 1) / math.Sqrt(3)
}

// slowedEnergy is what the bandwidths do to an energy: Gaussian channels of
// standard deviations s1 and s2 change it by -½(s1² + s2²)·∫ v′i′ dt, nothing
// where one of them stands still while the other moves, and 6σ²/t² of a resistive
// commutation (trade-facts 4, derived).
func (m *measurer) slowedEnergy(e *edge, q reading) float64 {
	sum := 0.0
	lo, hi := e.i.Indices(q.over)
	for k := lo; k+1 < hi; k++ {
		sum += (e.v.At(e.i.Time(k+1)) - e.v.At(e.i.Time(k))) * (e.i.Y[k+1] - e.i.Y[k]) / e.i.Dt
	}
	s1, s2 := m.systemRise(e, result.Vds)/2.5631, m.systemRise(e, result.Id)/2.5631
	return math.Abs(sum) * (s1*s1 + s2*s2) / 2 / math.Sqrt(3)
}

// roundedPeak is what the bandwidth takes off a peak: a Gaussian of standard
// deviation s lowers a parabola of curvature y″ by |y″|·s²/2.
func (m *measurer) roundedPeak(e *edge, role result.Role, q reading) float64 {
	tr, _ := e.trace(role)
	s := m.systemRise(e, role) / 2.5631
	h, t := max(s, tr.Dt), q.over.From
	curvature := (tr.At(t-h) - 2*tr.At(t) + tr.At(t+h)) / (h * h)
	if !(curvature < 0) {
		return 0
	}
	return -curvature * s * s / 2 / math.Sqrt(3)
}

// systemRise returns the 10-90 % duration that the channel itself gives a step:
// from its bandwidth where that is known. Else that is assumed, but not so low
// that the fastest edge seen could not have passed.
func (m *measurer) systemRise(e *edge, role result.Role) float64 {
	if bw := e.bandwidth[role]; bw > 0 {
		return waveform.SystemRise(bw)
	}
	m.assume("bandwidth of %s at least %s", role, unit.Format(defaultBandwidth, "Hz", 3))
	rise := waveform.SystemRise(defaultBandwidth)
	tr, _ := e.trace(role)
	for key, q := range m.read {
		if role == result.Vds && (key == "t_rise_v" || key == "t_fall_v") || role == result.Id && (key == "t_rise_i" || key == "t_fall_i") {
			if q.value > 0 {
				rise = min(rise, q.value/2)
			}
		}
	}
	return max(rise, 0.5*tr.Dt)
}

package dpt

import (
	"math"
	"slices"

	"slewbook/waveform"
)

// loadLine is the load current near one edge: a straight line fitted to the
// current while the device conducts, and how it goes on through the edge,
// where the load sees v_bus - v in place of v_bus - v_on:
//
//	di_load/dt = slope · (v_bus - v)/(v_bus - v_on)
//
// so that it needs neither the load inductance nor a current through the edge.
type loadLine struct {
	line waveform.Line
	over waveform.Interval // where the line was fitted
	vOn  float64           // mean of v there [V]
	bus  float64           // [V]
	v    *waveform.Trace
}

// at returns the load current at t [A].
func (l loadLine) at(t float64) float64 {
	if l.over.Contains(t) {
		return l.line.At(t)
	}
	// ∫(v_bus - v) from the end of the fit to t, which may lie before it.
	edge, sign := l.over.To, 1.0
	iv := waveform.Interval{From: edge, To: t}
	if t < l.over.From {
		edge, sign = l.over.From, -1
		iv = waveform.Interval{From: t, To: edge}
	}
	flux := l.bus*iv.Duration() - waveform.Integral(l.v, iv)
	if math.IsInf(flux, 0) { // v is over range there
		return math.NaN()
	}
	return l.line.At(edge) + sign*l.line.Slope*flux/(l.bus-l.vOn)
}

// fitLoad fits the load line on the stretch over of the record.
func (r *record) fitLoad(over waveform.Interval, bus float64) loadLine {
	return loadLine{
		line: waveform.FitLine(r.i, over),
		over: over,
		vOn:  onVoltage(r.v.Samples(over)),
		bus:  bus,
		v:    r.v,
	}
}

// onVoltage is the mean of the samples of v in the on-state, those over range left out
// where they are no more than the others: it is small against the bus. NaN where more are
// over range, or one is missing.
func onVoltage(y []float64) float64 {
	within := slices.DeleteFunc(slices.Clone(y), func(y float64) bool { return math.IsInf(y, 0) })
	if 2*len(within) < len(y) {
		return math.NaN()
	}
	return waveform.Mean(within)
}

// loadInductance returns the inductance of the load from the ramp of the
// current over a stretch in which the device conducts, L = (v_bus - v_on)/(di/dt),
// and the bend of the ramp: the change of its slope from start to end, relative
// to the mean slope, from lines through its two halves.
func (r *record) loadInductance(over waveform.Interval, bus float64) (l, bend float64) {
	vOn := waveform.Mean(r.v.Samples(over))
	l = (bus - vOn) / waveform.FitLine(r.i, over).Slope
	a := waveform.FitLine(r.i, part(over, 0, 0.5)).Slope
	b := waveform.FitLine(r.i, part(over, 0.5, 1)).Slope
	// The halves' middles are half a ramp apart.
	bend = 2 * (b - a) / ((a + b) / 2)
	if math.IsInf(bend, 0) {
		bend = math.NaN()
	}
	return l, bend
}

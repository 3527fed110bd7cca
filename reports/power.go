package reports

import (
	"math"

	"slewbook/waveform"
)

// power returns v·i [W] on v's grid inside iv and a sample beyond, for drawing. i is interpolated
// linearly, since the two grids may be shifted by a delay; where either has no
// finite value the power is NaN.
func power(v, i *waveform.Trace, iv waveform.Interval) *waveform.Trace {
	lo, hi := v.Indices(waveform.Interval{From: iv.From - v.Dt, To: iv.To + v.Dt})
	p := &waveform.Trace{Name: "power", Unit: "W", T0: v.Time(lo), Dt: v.Dt, Y: make([]float64, hi-lo)}
	for k := range p.Y {
		p.Y[k] = v.Y[lo+k] * i.At(v.Time(lo+k))
		if math.IsInf(p.Y[k], 0) {
			p.Y[k] = math.NaN() // over range in a factor; its sign says nothing here
		}
	}
	return p
}

// runningEnergy returns the integral of p from the given time on [J], by the
// trapezoidal rule, on p's grid. Its first sample is the first one after from;
// the piece before it is included. After a sample that is not finite it has no
// value.
func runningEnergy(p *waveform.Trace, from float64) *waveform.Trace {
	lo, hi := p.Indices(waveform.Interval{From: from, To: math.Inf(1)})
	e := &waveform.Trace{Name: "energy", Unit: "J", T0: p.Time(lo), Dt: p.Dt, Y: make([]float64, hi-lo)}
	sum, last, t := 0.0, p.At(from), from
	for k := range e.Y {
		y := p.Y[lo+k]
		sum += (p.Time(lo+k) - t) * (last + y) / 2
		last, t = y, p.Time(lo+k)
		e.Y[k] = sum
	}
	return e
}

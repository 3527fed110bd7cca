package loss

import (
	"fmt"
	"math"
)

const (
	hottest  = 1000  // where no semiconductor switches any more: past it the iteration is running away [K]
	settledT = 1e-9  // change of a temperature that ends the iteration [K]
	mostT    = 20000 // steps of it
)

// balance is where losses and temperatures agree.
type balance struct {
	Parts [parts]float64 // of one leg or position [W]
	T     temperatures
	Sink  float64 // NaN where nothing tells
	Gain  float64 // by how much the last step's change came back: R_th·dP/dT of the loop [1]; NaN without one
}

// solve steps from the temperature without losses to where losses and temperatures
// agree: T_j = T_sink + R_th·P(T_j), T_sink = T_ambient + R_sink·ΣP. The steps are
// those of dies that heat up, so that where they grow without end the real ones do
// so too: thermal runaway, which is an error.
func (s stress) solve(r *reading) (balance, error) {
	k := s.c.Cooling
	if !math.IsNaN(k.Tj) {
		b := balance{T: temperatures{k.Tj, k.Tj}, Sink: math.NaN(), Gain: math.NaN()}
		r.reset()
		b.Parts = s.losses(r, b.T)
		return b, r.err
	}
	start := k.TSink
	if math.IsNaN(start) {
		start = k.TAmbient
	}
	b := balance{T: temperatures{start, start}, Sink: start, Gain: math.NaN()}
	before := math.NaN()
	for range mostT {
		r.reset()
		b.Parts = s.losses(r, b.T)
		if r.err != nil {
			return b, fmt.Errorf("with the junctions at %.4g K (transistor) and %.4g K (diode): %w", b.T.T, b.T.D, r.err)
		}
		sink, next := s.heated(r, b.Parts)
		change := max(math.Abs(next.T-b.T.T), math.Abs(next.D-b.T.D))
		b.T, b.Sink = next, sink
		if change > 1e3*settledT && before > 0 { // the last steps are rounding
			b.Gain = change / before
		}
		switch {
		case math.IsNaN(change):
			return b, fmt.Errorf("the losses are not a number at %.4g K", b.T.T)
		case max(b.T.T, b.T.D) > hottest:
			back := ""
			if before > 0 {
				back = fmt.Sprintf(" (a step of the iteration comes back %.3g times as large; it must be less than 1)", change/before)
			}
			return b, fmt.Errorf("thermal runaway: the losses rise faster with the junction's temperature than the cooling can carry away%s", back)
		case change <= settledT:
			return b, nil
		}
		before = change
	}
	return b, fmt.Errorf("on the verge of thermal runaway: the temperatures have not settled in %d steps (a step comes back %.6g times as large)", mostT, b.Gain)
}

// heated returns the temperatures that losses make.
func (s stress) heated(r *reading, p [parts]float64) (sink float64, t temperatures) {
	k := s.c.Cooling
	sink = k.TSink
	rth := func(value float64, kind inputKind) float64 {
		if r.moved.kind == kind {
			value *= 1 + r.moved.u
		}
		return value
	}
	if math.IsNaN(sink) {
		sink = k.TAmbient + rth(k.RthSink, rthSink)*s.c.positions()*whole(p)
	}
	heat := s.heat(p)
	t.T = sink + rth(s.c.Transistor.Rth, rthTransistor)*heat.T
	t.D = sink + rth(s.c.freewheelRth())*heat.D
	return sink, t
}

package dpt

import (
	"math"

	"slewbook/waveform"
)

// readThinned tells what the distance of the samples does to readings, where the closed
// forms of samplingOf do not see it: the edge is read again from its even and from its odd
// samples alone. From a signal that the samples follow, that changes by more than the
// samples themselves have left out (three times as much, where that grows with the square
// of their distance); it is taken for a bound on either side. NaN where neither half can
// be read, so that nothing tells.
func (m *measurer) readThinned(e *edge, read map[string]reading, noise map[string]doubt) map[string]float64 {
	even, odd := m.readEdge(e.thinned(0)), m.readEdge(e.thinned(1))
	effect := map[string]float64{}
	for key, q := range read {
		if q.form == levelForm || q.form == fitForm || len(q.of) > 0 || math.IsNaN(q.value) {
			continue
		}
		change := moved(q.value, even[key].value, 2*q.value-odd[key].value)
		// Half the samples have more noise; what that explains is no effect of sampling.
		n := math.Hypot(noise[key].spread, noise[key].shift)
		effect[key] = math.Sqrt(max(change*change-n*n, 0) / 3)
		if math.IsNaN(change) {
			effect[key] = math.NaN()
		}
	}
	return effect
}

// thinned returns the edge with every second sample of its traces, from the first one or
// the second one on.
func (e *edge) thinned(from int) *edge {
	n := e.copy()
	thin := func(tr *waveform.Trace) {
		if tr == nil {
			return
		}
		y := make([]float64, 0, len(tr.Y)/2+1)
		for k := from; k < len(tr.Y); k += 2 {
			y = append(y, tr.Y[k])
		}
		tr.T0, tr.Dt, tr.Y = tr.Time(from), 2*tr.Dt, y
	}
	thin(n.v)
	thin(n.i)
	thin(n.g)
	for _, tr := range n.other {
		thin(tr)
	}
	return n
}

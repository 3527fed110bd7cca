package dpt

import (
	"math"
	"slices"

	"slewbook/dpt/result"
	"slewbook/filters"
	"slewbook/waveform"
)

// readSmeared tells what the bandwidths of the channels do to readings, levels and
// energies aside, for which the closed forms suffice: the edge is read again with v and i slowed by once and twice as
// much (in variance) as the channels have slowed them, and what they have done follows
// from how the changes grow: with the variance where the signal is smooth, with its root
// beside a kink. A one-sided error of that size.
func (m *measurer) readSmeared(e *edge, read map[string]reading, noise map[string]doubt) map[string]smearing {
	effect := map[string]smearing{}
	for key, q := range read {
		if q.form != levelForm && q.form != energyForm && !math.IsNaN(q.value) {
			effect[key] = smearing{}
		}
	}
	if len(effect) == 0 {
		return effect
	}
	once, twice := m.readEdge(m.smear(e, 1)), m.readEdge(m.smear(e, 2))
	for key := range effect {
		by := smearedBy(read[key].value, once[key].value, twice[key].value)
		// Slowing takes noise off as well; what that explains is no effect of bandwidth.
		n, change := math.Hypot(noise[key].spread, noise[key].shift), once[key].value-read[key].value
		if by > 0 && read[key].form != someForm && !math.IsNaN(change) {
			by *= math.Sqrt(max(1-math.Pow(n/change, 2), 0))
		}
		effect[key] = smearing{by * m.oneSided(e, result.Vds, result.Id), change, n}
	}
	return effect
}

// smearing is what slowing an edge once more does to a reading.
type smearing struct {
	effect float64 // what the bandwidths have done to it, one-sided
	change float64 // what slowing by as much again adds; NaN where it cannot be read then
	noise  float64 // what of that noise explains
}

// smearedBy extrapolates from readings at one, two and three times the variance to
// none: y = y0 + c·x^p, with p from 1/2 to 1, for which (y3 - y1)/(y2 - y1) is 1.77 to 2.
func smearedBy(y1, y2, y3 float64) float64 {
	switch {
	case y1 == y2:
		return 0
	case math.IsNaN(y2): // slowed so that it cannot be read
		return math.Abs(y1)
	}
	p := 1.0
	if grows := (y3 - y1) / (y2 - y1); !math.IsNaN(grows) {
		const kink = 1.767
		p = min(max(0.5+0.5*(grows-kink)/(2-kink), 0.5), 1)
	}
	return math.Abs(y2-y1) / (math.Exp2(p) - 1)
}

// smear returns the edge with v and i slowed by so many times the variance of their
// channels. A channel too fast for its samples to show it is left as it is. A sample that
// is over range or missing is taken as the one beside it: else what is read near it,
// without it, could not be read again.
func (m *measurer) smear(e *edge, times float64) *edge {
	n := e.copy()
	slow := func(role result.Role, tr *waveform.Trace) {
		f, err := filters.Gaussian(waveform.GaussianRise/m.systemRise(e, role)/math.Sqrt(times), tr.Dt)
		if err != nil {
			return
		}
		if y, err := f.Apply(filled(tr.Y)); err == nil {
			tr.Y = y
		}
	}
	slow(result.Vds, n.v)
	slow(result.Id, n.i)
	for _, role := range []result.Role{result.VOther, result.IOther} {
		if tr, ok := n.other[role]; ok {
			slow(role, tr)
		}
	}
	return n
}

// filled returns the samples with those that are no numbers as the last one before them
// that is, or the first one behind.
func filled(y []float64) []float64 {
	if !slices.ContainsFunc(y, notFinite) {
		return y
	}
	out := slices.Clone(y)
	last := 0.0
	if k := slices.IndexFunc(y, func(y float64) bool { return !notFinite(y) }); k >= 0 {
		last = y[k]
	}
	for k, y := range out {
		if notFinite(y) {
			out[k] = last
		}
		last = out[k]
	}
	return out
}

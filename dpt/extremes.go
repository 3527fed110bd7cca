package dpt

import (
	"math"

	"slewbook/dpt/result"
	"slewbook/waveform"
)

// extremes reads the largest voltage and current of the whole record, whichever edge
// they belong to, since ratings hold at all of them.
func (m *measurer) extremes() {
	zero := m.zeroU()
	m.read["v_max"] = m.extreme(result.Vds, m.r.v, m.offsetU(result.Vds, m.r.v))
	m.read["i_max"] = m.extreme(result.Id, m.r.i, zero)
}

func (m *measurer) extreme(role result.Role, tr *waveform.Trace, zero stated) reading {
	const def = "largest sample of the record"
	y, t := waveform.Max(tr, tr.Span())
	if math.IsNaN(y) {
		return missing(def, &waveform.Warning{Code: waveform.ClippedWindow, Channel: string(role), Over: tr.Span(),
			Text: "a sample of " + string(role) + " is over range or missing: its largest value is not known"})
	}
	q := reading{value: y, form: extremeForm, role: role, over: waveform.Interval{From: t, To: t}, def: def}
	lines := []result.Contribution{
		m.gainOf(role, y),
		{Source: "zero of " + string(role), U: zero.u, Unit: role.Unit(), Effect: zero.u, Scope: result.OfSetup, Basis: zero.basis},
		{Source: noiseSource, U: m.r.grain[role].sigma, Unit: role.Unit(), Effect: m.r.grain[role].sigma, Scope: result.OfReading, Basis: fromCapture},
	}
	for _, e := range []*edge{m.off, m.on} {
		if e == nil {
			continue
		}
		near := *e
		near.v, near.i = m.r.v, m.r.i
		for _, own := range []struct {
			source string
			effect float64
		}{{"sampling", near.samplingOf(q)}, {"bandwidth", m.bandwidthOf(&near, q)}} {
			if own.effect == own.effect { // unknown at the ends of the record
				lines = append(lines, result.Contribution{Source: own.source, U: math.Abs(own.effect), Unit: role.Unit(), Effect: own.effect, Scope: result.OfReading, Basis: fromCapture})
			}
		}
		break
	}
	q.budgeted(lines)
	return q
}

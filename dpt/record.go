package dpt

import (
	"slewbook/dpt/result"
	"slewbook/waveform"
)

// record is a capture made ready to be measured: the corrected traces of the
// three main roles and of the others, and the two states that v and the gate switch between.
type record struct {
	v, i, g *waveform.Trace                 // g is nil without a gate channel
	other   map[result.Role]*waveform.Trace // those of the other roles that the capture has

	summed bool // i is the sum of branch currents

	bandwidth map[result.Role]float64 // of the channels with their filters, NaN where it is not known [Hz]
	quantum   map[result.Role]float64 // step of the converter, before any filter [unit of the role]
	grain     map[result.Role]grain   // noise of the channels
	effects   []effect                // corrections whose effect on the energies is still to be told

	vLow, vHigh float64 // states of v over the whole record [V]
	gLow, gHigh float64 // states of the gate over the whole record [V]

	rests  map[restKey]state           // what rest has read
	swings map[*waveform.Trace]float64 // and what swing has

	events []result.Event
	// moves[k] is when v passed the middle between its states at events[k],
	// and how long it was on its way.
	moves []waveform.Transition
	// partials are the times in which v leaves its state and is no event.
	partials []partial
}

// trace returns the trace of a role, nil where the capture has none.
func (r *record) trace(role result.Role) *waveform.Trace {
	switch role {
	case result.Vds:
		return r.v
	case result.Id:
		return r.i
	case result.Vgs:
		return r.g
	}
	return r.other[role]
}

// swing is the span of a trace's values, read once.
func (r *record) swing(tr *waveform.Trace) float64 {
	span, ok := r.swings[tr]
	if !ok {
		ch := describe(tr)
		span = ch.Max - ch.Min
		if r.swings == nil {
			r.swings = map[*waveform.Trace]float64{}
		}
		r.swings[tr] = span
	}
	return span
}

// span is the stretch of time that all traces of the record cover.
func (r *record) span() waveform.Interval {
	iv := r.v.Span()
	for _, tr := range []*waveform.Trace{r.i, r.g} {
		if tr != nil {
			s := tr.Span()
			iv = waveform.Interval{From: max(iv.From, s.From), To: min(iv.To, s.To)}
		}
	}
	return iv
}

// conducts tells whether the device conducts during stay k; the record must
// have an event.
func (r *record) conducts(k int) bool {
	if k < len(r.events) {
		return r.events[k].Edge == result.TurnOff
	}
	return r.events[k-1].Edge == result.TurnOn
}

// part returns the stretch of iv between the fractions a and b of it.
func part(iv waveform.Interval, a, b float64) waveform.Interval {
	d := iv.Duration()
	return waveform.Interval{From: iv.From + a*d, To: iv.From + b*d}
}

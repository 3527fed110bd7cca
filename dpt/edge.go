package dpt

import (
	"fmt"
	"math"

	"slewbook/dpt/result"
	"slewbook/waveform"
)

// edge is one switching event with everything that its crossings refer to.
type edge struct {
	kind     result.Edge
	pulse    int
	index    int               // of the event in the record
	search   waveform.Interval // from the start of the edge to the next event
	gate     waveform.Interval // the same for the gate, which is commanded first
	bus      state             // base of the voltage levels
	load     float64           // base of the current levels: load current at the edge [A]
	idle     bool              // it carries no load current that levels could be percentages of
	line     loadLine
	gLow     float64 // settled gate levels at this edge [V], NaN without gate
	gHigh    float64
	gateRest []state // that they are of

	v, i, g   *waveform.Trace
	other     map[result.Role]*waveform.Trace
	bandwidth map[result.Role]float64 // of the channels, where it is known [Hz]
	grain     map[result.Role]grain   // noise of the channels
	choice    choice                  // of the crossings that its levels leave open
	doubts    map[result.Role]float64 // what is not known of a signal against its levels, where there is a choice
	inputs    []source                // what it is read from, with its uncertainties; once it is measured
	again     bool                    // it is a copy that is read again, for the values alone
}

// largest returns the largest load current seen around the edge: at it, or at
// the end of the ramp that its load line was fitted to. 0 if there is none.
func (e *edge) largest() float64 {
	i := 0.0
	for _, x := range []float64{e.load, e.line.line.At(e.line.over.To)} {
		if x > i {
			i = x
		}
	}
	return i
}

// direction returns the way in which a signal passes its levels at this edge: those of
// the freewheeling device go the other way.
func (e *edge) direction(role result.Role) waveform.Slope {
	if (e.kind == result.TurnOn) == (role == result.Vds || role == result.IOther) {
		return waveform.Falling
	}
	return waveform.Rising
}

// level returns the value that a limit stands for.
func (e *edge) level(l result.Limit) float64 {
	switch l.Signal {
	case result.Vds, result.VOther:
		return l.Percent / 100 * e.bus.level
	case result.Id, result.IOther:
		return l.Percent / 100 * e.load
	}
	return e.gLow + l.Percent/100*(e.gHigh-e.gLow)
}

// trace returns the trace of a signal and the stretch to search on it.
func (e *edge) trace(role result.Role) (*waveform.Trace, waveform.Interval) {
	switch role {
	case result.Vds:
		return e.v, e.search
	case result.Id:
		return e.i, e.search
	case result.Vgs:
		return e.g, e.gate
	}
	return e.other[role], e.search
}

// crossing returns the instant at which a signal first passes a limit after
// the start of the edge, and why not where it does not.
func (e *edge) crossing(l result.Limit) (float64, *waveform.Warning) {
	tr, iv := e.trace(l.Signal)
	if tr == nil {
		return math.NaN(), &waveform.Warning{Code: waveform.NotInRecord, Channel: string(l.Signal), Over: e.search,
			Text: fmt.Sprintf("no trace has the role %s, so %s cannot be found", l.Signal, l)}
	}
	if math.IsNaN(e.level(l)) {
		return math.NaN(), e.noLevel(l)
	}
	t := waveform.FirstCrossing(tr, e.level(l), e.direction(l.Signal), iv)
	if !math.IsNaN(t) {
		t = e.chosen(l, t)
	}
	if !math.IsNaN(t) {
		return t, nil
	}
	w := &waveform.Warning{Code: waveform.LevelNotReached, Channel: string(l.Signal), Over: iv}
	lo, hi := tr.Indices(iv)
	for k := lo; k < hi; k++ {
		if y := tr.Y[k]; y-y != 0 {
			w.Code = waveform.ClippedWindow
			w.Text = fmt.Sprintf("%s is over range or missing at %s before it passes %s", l.Signal, at(tr.Time(k)), l)
			return t, w
		}
	}
	w.Text = fmt.Sprintf("%s (%.4g %s) is not passed between %s and %s", l, e.level(l), l.Signal.Unit(), at(iv.From), at(iv.To))
	return t, w
}

// lastCrossing returns the last instant in iv at which the signal passes the
// limit in the direction of the edge, NaN if there is none.
func (e *edge) lastCrossing(l result.Limit, iv waveform.Interval) float64 {
	tr, _ := e.trace(l.Signal)
	return waveform.LastCrossing(tr, e.level(l), e.direction(l.Signal), iv)
}

// at writes an instant for a message.
func at(t float64) string { return fmt.Sprintf("t = %.6g µs", t*1e6) }

package reports

import (
	"fmt"
	"math"
	"strings"

	"gonum.org/v1/plot/plotter"

	"slewbook/dpt/result"
	"slewbook/waveform"
)

// columns is how many columns a trace is decimated to. A data area is narrower
// than that in a PNG of the default size, and fine enough for print in an SVG.
const columns = 1200

// record returns the panels of the whole capture.
func record(s *result.Shot) []*panel {
	span := wholeSpan(s)
	unit, name := scaleFor([]float64{span.From, span.To}, "s")
	var windows []waveform.Interval
	for _, e := range s.Edges {
		windows = append(windows, e.Window)
	}
	var out []*panel
	for i, role := range shownRoles(s) {
		p := &panel{Name: "record " + string(role), X: span, XUnit: unit, XLabel: "time on the capture's axis [" + name + "]", More: windows}
		p.trace(s, role, nil)
		for _, e := range s.Events {
			p.Events = append(p.Events, event{T: e.T})
			if i == 0 {
				p.Events[len(p.Events)-1].Label = eventLabel(e.Edge, e.Pulse)
			}
		}
		out = append(out, p)
	}
	return out
}

// edgePanels returns the panels around one edge: each main trace, the power and
// the running energy.
func edgePanels(s *result.Shot, e *result.EdgeMarks) []*panel {
	view := edgeView(e, wholeSpan(s))
	blank := func(name string) *panel {
		return &panel{
			Name: string(e.Edge) + " " + name, X: view, Zero: e.T, XUnit: 1e-9, Window: validWindow(e), Events: []event{{T: e.T}},
			XLabel: "time after the event [ns]", XMore: ", which is at " + timeText(e.T) + " on the capture's axis",
		}
	}
	var out []*panel
	for _, role := range shownRoles(s) {
		p := blank(string(role))
		p.trace(s, role, e)
		out = append(out, p)
	}
	v, i := s.Traces[result.Vds], s.Traces[result.Id]
	if v == nil || i == nil {
		return out
	}
	w := power(v, i, view)
	pp := blank("power")
	pp.single(w, "p = v·i", powerPen())
	out = append(out, pp)
	if pp.Window.Duration() > 0 {
		ep := blank("energy")
		energy := runningEnergy(w, ep.Window.From)
		ep.single(energy, "E(t)", energyPen())
		ep.startAt(ep.Window.From)
		if y := energy.At(ep.Window.To); !math.IsNaN(y) {
			ep.Marks = []mark{{T: ep.Window.To, Y: y, Pen: energyPen(), Label: "end of window: " + energyText(s, e)}}
		}
		out = append(out, ep)
	}
	return out
}

// trace adds the curve of one role, and around an edge its raw curve, levels
// and marks.
func (p *panel) trace(s *result.Shot, role result.Role, e *result.EdgeMarks) {
	tr, style := s.Traces[role], rolePen(role)
	if e != nil {
		if raw := s.Raw[role]; raw != nil {
			p.Curves = append(p.Curves, curve{"raw", rawPen(), decimate(raw, p.X, columns)})
		}
		p.levels(role, e)
		for _, m := range e.Marks {
			if m.Role == role {
				p.Marks = append(p.Marks, mark{T: m.T, Y: m.Y, Label: markLabel(m), Pen: style})
			}
		}
	}
	p.curve("trace", tr, style)
	p.valueAxis(roleSymbol(role, s.IGBT()), role.Unit())
}

// valueAxis labels the axis of a panel whose curves are in it.
func (p *panel) valueAxis(name, unit string) {
	p.Unit, p.YUnit = unit, 1
	if peak := p.peak(); peak >= 10e3 || peak < 0.5 {
		p.YUnit, unit = scaleFor([]float64{peak}, unit)
	}
	p.YLabel = name + " [" + unit + "]"
}

// single adds a computed curve with a scaled unit.
func (p *panel) single(tr *waveform.Trace, name string, style pen) {
	p.curve("trace", tr, style)
	p.Unit = tr.Unit
	var unit string
	p.YUnit, unit = scaleFor([]float64{p.peak()}, tr.Unit)
	p.YLabel = name + " [" + unit + "]"
}

func (p *panel) curve(name string, tr *waveform.Trace, style pen) {
	p.Curves = append(p.Curves, curve{name, style, decimate(tr, p.X, columns)})
	p.Over, p.Under = overRange(tr, p.X, columns)
}

// startAt lets the curve start from zero at that time, which lies between two
// samples.
func (p *panel) startAt(t float64) {
	c := &p.Curves[0]
	if len(c.Lines) > 0 && c.Lines[0][0].X > t {
		c.Lines[0] = append(plotter.XYs{{X: t}}, c.Lines[0]...)
	}
}

func (p *panel) peak() float64 {
	lo, hi := p.yRange()
	return max(-lo, hi) / 1.09
}

// levels draws the base of the levels with its value, and 10 and 90 % of it.
func (p *panel) levels(role result.Role, e *result.EdgeMarks) {
	base, name := math.NaN(), "" // the marks on gates and branches stand by themselves
	switch role {
	case result.Vds, result.VOther:
		base, name = e.Bus, "base V_bus"
	case result.Id, result.IOther:
		base, name = e.Load, "base I_load"
	}
	if math.IsNaN(base) || base == 0 {
		return
	}
	p.Levels = []level{
		{Y: 0.1 * base, Name: "10 %", Pen: levelPen()},
		{Y: 0.9 * base, Name: "90 %", Pen: levelPen()},
		{Y: base, Name: name, Pen: basePen(), Label: name + " = " + valueText(base, math.NaN(), role.Unit(), false)},
	}
}

// wholeSpan returns the interval that the shown traces cover together.
func wholeSpan(s *result.Shot) waveform.Interval {
	span := waveform.Interval{From: math.Inf(1), To: math.Inf(-1)}
	for _, role := range shownRoles(s) {
		iv := s.Traces[role].Span()
		span.From, span.To = min(span.From, iv.From), max(span.To, iv.To)
	}
	return span
}

// edgeView returns what to show around an edge: all that was read off, and
// beyond it some time before and more after, for the ringing.
func edgeView(e *result.EdgeMarks, span waveform.Interval) waveform.Interval {
	lo, hi := e.T, e.T
	times := []float64{e.Window.From, e.Window.To}
	for _, m := range e.Marks {
		times = append(times, m.T)
	}
	for _, t := range times {
		if t-t == 0 {
			lo, hi = min(lo, t), max(hi, t)
		}
	}
	if lo == hi { // nothing was read off: a hundredth of the record
		lo, hi = lo-span.Duration()/200, hi+span.Duration()/200
	}
	d := hi - lo
	return waveform.Interval{From: max(lo-0.5*d, span.From), To: min(hi+1.3*d, span.To)}
}

// validWindow returns the energy window, zero if it has no length.
func validWindow(e *result.EdgeMarks) waveform.Interval {
	if e.Window.Duration() > 0 { // false for NaN, too
		return e.Window
	}
	return waveform.Interval{}
}

func edgeTitle(e *result.EdgeMarks) string {
	name := edgeName(e.Edge)
	if e.Pulse == 0 {
		return name + ", number of the pulse not known"
	}
	return fmt.Sprintf("%s of pulse %d", name, e.Pulse)
}

// windowTitle states the energy and the rule and the ends of its window.
func windowTitle(s *result.Shot, e *result.EdgeMarks) string {
	rule := ""
	if w, ok := result.FindWindow(e.Name, e.Edge); ok {
		rule = fmt.Sprintf(" (%s to %s)", w.Start, w.End)
	}
	equals := " = "
	if math.IsNaN(e.Energy) {
		equals = " "
	}
	txt := energySymbol(e.Edge) + equals + energyText(s, e) + " in window " + e.Name + rule
	if w := validWindow(e); w.Duration() > 0 {
		return txt + minus(fmt.Sprintf(", from %.1f to %.1f ns", (w.From-e.T)*1e9, (w.To-e.T)*1e9))
	}
	if e.Window.Duration() <= 0 {
		return txt + ", which ends before it starts"
	}
	return txt + ", which was not found"
}

func edgeName(edge result.Edge) string {
	return map[result.Edge]string{result.TurnOff: "Turn-off", result.TurnOn: "Turn-on"}[edge]
}

func energySymbol(edge result.Edge) string {
	return result.Symbol(energyKey(edge), false)
}

func energyKey(edge result.Edge) string {
	if edge == result.TurnOff {
		return "e_off"
	}
	return "e_on"
}

// energyText writes the energy of the window with the digits that its
// uncertainty supports, where that is known.
func energyText(s *result.Shot, e *result.EdgeMarks) string {
	if math.IsNaN(e.Energy) {
		return "not measured"
	}
	u := math.NaN()
	if m := s.Quantity(energyKey(e.Edge)); m != nil {
		u = m.U
	}
	return valueText(e.Energy, u, "J", false)
}

func eventLabel(edge result.Edge, pulse int) string {
	name := strings.TrimPrefix(string(edge), "turn-")
	if pulse == 0 {
		return name
	}
	return fmt.Sprintf("%s %d", name, pulse)
}

// markLabel adds its value to a mark that is not at a stated level.
func markLabel(m result.Mark) string {
	if strings.Contains(m.Label, "%") {
		return m.Label
	}
	return m.Label + " " + valueText(m.Y, math.NaN(), m.Role.Unit(), false)
}

// timeText states an instant on the capture's axis to a tenth of a nanosecond.
func timeText(t float64) string { return fmt.Sprintf("%.4f µs", t*1e6) }

func rolePen(role result.Role) pen {
	switch {
	case role == result.Vgs || role == result.VgsOther || role == result.Ig:
		return gatePen()
	case role.Unit() == "A":
		return currentPen()
	}
	return voltagePen()
}

// roleSymbol is the symbol of a channel's signal, "_" before its subscript.
func roleSymbol(role result.Role, igbt bool) string {
	main := map[result.Role][2]string{
		result.Vds:      {"v_DS", "v_CE"},
		result.Id:       {"i_D", "i_C"},
		result.Vgs:      {"v_GS", "v_GE"},
		result.VgsOther: {"v_GS,other", "v_GE,other"},
		result.VdsOn:    {"v_DS(on)", "v_CE(on)"},
		result.Ig:       {"i_G", "i_G"},
		result.IL:       {"i_L", "i_L"},
	}
	names, ok := main[role]
	if n, branch := strings.CutPrefix(string(role), "id_"); branch {
		names, ok = [2]string{"i_D," + n, "i_C," + n}, true
	}
	switch {
	case !ok:
		return string(role) // v_other, i_other
	case igbt:
		return names[1]
	}
	return names[0]
}

package reports

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"

	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"

	"slewbook/dpt/result"
	"slewbook/waveform"
	"slewbook/waveform/unit"
)

// DrawWhy lays out why a quantity of a measured shot has its value, as WriteWhy
// tells it: traces as recorded and as corrected with levels, marks, constructions
// and the interval shaded; what was integrated with its running integral; what the
// value is with other lags and levels; its uncertainty by input; its value under
// other definitions. One figure, or with Style.Split one of each. The shot must
// have been measured with Options.Drawings and still have its traces.
func DrawWhy(s *result.Shot, key string, style Style) ([]*Figure, error) {
	if err := style.Validate(); err != nil {
		return nil, err
	}
	m := s.Quantity(key)
	switch {
	case m == nil:
		return nil, fmt.Errorf("%s: there is no quantity %q; slewbook definitions lists the names", s.Capture, key)
	case m.Drawing == nil || len(shownRoles(s)) == 0:
		return nil, fmt.Errorf("no figure of %s of %q: it was measured without drawings, or its traces are gone", key, s.Capture)
	}
	w := why{s: s, m: m, style: style}
	w.column, _ = result.FindColumn(key)
	w.edge = w.findEdge()
	w.view = w.findView()
	traces := w.panels()
	columns := w.columns()
	if !style.Split {
		f := w.figure("")
		f.fill(sheet{head: w.head(f, 13), record: traces, columns: columns, legend: w.legend(), notes: w.notes()})
		return []*Figure{f}, nil
	}
	f := w.figure("")
	f.fill(sheet{head: w.head(f, 10), record: traces, legend: w.legend(), notes: w.notes()})
	out := []*Figure{f}
	for k, c := range columns {
		f := w.figure(fmt.Sprintf("why-%d", k+1))
		f.height = min(f.height, 0.72*f.width)
		f.fill(sheet{head: w.head(f, 10), columns: []column{c}})
		out = append(out, f)
	}
	return out, nil
}

// WhyPath is the slash path of the figure of a quantity, without extension.
func WhyPath(capture, key, part string) string {
	path := figurePath(capture, strings.ReplaceAll(key, ".", "-"))
	if part != "" {
		path += "-" + part
	}
	return path
}

// why is one quantity on its way to a figure.
type why struct {
	s      *result.Shot
	m      *result.Measurement
	column result.Column
	edge   *result.EdgeMarks // nil where it belongs to none
	view   waveform.Interval
	style  Style
}

func (w *why) figure(part string) *Figure {
	f := newFigure(w.style, part)
	f.provenance = append(provenance(w.s), "quantity "+w.m.Key, "definition "+w.m.Definition)
	return f
}

// findEdge returns the edge that the quantity belongs to, or that it was read at.
func (w *why) findEdge() *result.EdgeMarks {
	if w.column.Edge != "" {
		return firstEdge(w.s, w.column.Edge)
	}
	for k := range w.s.Edges {
		e := &w.s.Edges[k]
		near := waveform.Interval{From: w.m.Over.From - 3*w.m.Over.Duration(), To: w.m.Over.To + w.m.Over.Duration()}
		if near.Contains(e.T) {
			return e
		}
	}
	return nil
}

// findView returns what to show: the interval with some time on both sides, the
// edge where that is of no length, or the whole record.
func (w *why) findView() waveform.Interval {
	span := wholeSpan(w.s)
	over := w.m.Over
	switch {
	case math.IsNaN(over.From) && w.edge == nil:
		return span
	case math.IsNaN(over.From), over.Duration() <= 0 && w.edge != nil:
		view := edgeView(w.edge, span)
		if over.From < view.From || over.From > view.To {
			d := math.Abs(over.From - w.edge.T)
			view = waveform.Interval{From: min(w.edge.T, over.From) - 0.3*d, To: max(w.edge.T, over.From) + 0.3*d}
		}
		return view
	case over.Duration() <= 0:
		return span
	}
	d := over.Duration()
	if w.edge != nil {
		d = max(d, edgeView(w.edge, span).Duration()/4)
	}
	return waveform.Interval{From: max(over.From-0.5*d, span.From), To: min(over.To+0.8*d, span.To)}
}

// head names the capture, the value and what it is.
func (w *why) head(f *Figure, size vg.Length) []heading {
	width := f.width - 2*f.style.length(f.style.Margin)
	out := f.headings(size, plain, printable(w.s.Capture, false), width)
	value := result.Symbol(w.m.Key, w.s.IGBT()) + " = " + minus(valueU(w.m))
	out = append(out, f.headings(10, subs, value, width)...)
	return withGap(append(out, f.headings(7.5, plain, w.column.Help, width)...), titleGap)
}

// panels returns the traces, what was integrated, and its running integral.
func (w *why) panels() []*panel {
	var out []*panel
	for _, role := range w.roles() {
		p := w.blank(string(role))
		w.trace(p, role)
		out = append(out, p)
	}
	integrand := w.m.Drawing.Integrand
	if v, i := w.s.Traces[result.Vds], w.s.Traces[result.Id]; integrand == nil && w.isEnergy() && v != nil && i != nil {
		integrand = power(v, i, w.view)
		integrand.Name = "p = v·i"
	}
	if integrand == nil || !(w.m.Over.Duration() > 0) {
		return out
	}
	p := w.blank("integrand")
	p.single(integrand, integrand.Name, powerPen())
	sum := runningEnergy(integrand, w.m.Over.From)
	sum.Unit = map[string]string{"W": "J", "A": "C", "V": "V·s"}[integrand.Unit]
	r := w.blank("running integral")
	r.single(sum, "∫", energyPen())
	r.startAt(w.m.Over.From)
	if y := sum.At(w.m.Over.To); !math.IsNaN(y) {
		text := valueText(y, math.NaN(), sum.Unit, false)
		if sum.Unit == w.m.Unit && !strings.HasSuffix(w.column.Key, "_channel") {
			text = valueText(w.m.Value, w.m.U, w.m.Unit, false)
		}
		r.Marks = []mark{{T: w.m.Over.To, Y: y, Pen: energyPen(), Label: "end: " + minus(text)}}
	}
	return append(out, p, r)
}

// roles are those of the main traces, and of the others those that the quantity was read
// from: that its budget names, or that something is drawn on.
func (w *why) roles() []result.Role {
	named := map[result.Role]bool{}
	for _, c := range w.m.Budget {
		for _, word := range strings.Fields(c.Source) {
			named[result.Role(word)] = true
		}
	}
	for _, x := range w.m.Drawing.Marks {
		named[x.Role] = true
	}
	for _, x := range w.m.Drawing.Lines {
		named[x.Role] = true
	}
	roles := shownRoles(w.s)
	for _, role := range slices.Sorted(maps.Keys(w.s.Traces)) {
		if named[role] && !slices.Contains(roles, role) {
			roles = append(roles, role)
		}
	}
	return roles
}

// isEnergy tells whether the quantity is the integral of v·i.
func (w *why) isEnergy() bool {
	return strings.HasPrefix(w.column.Key, "e_on") || strings.HasPrefix(w.column.Key, "e_off")
}

// blank returns axes over the view.
func (w *why) blank(name string) *panel {
	p := &panel{Name: name, X: w.view}
	unit, label := scaleFor([]float64{w.view.Duration()}, "s")
	p.XUnit, p.XLabel = unit, "time on the capture's axis ["+label+"]"
	if e := w.edge; e != nil {
		p.Zero, p.XLabel = e.T, "time after the event ["+label+"]"
		p.XMore = ", which is at " + timeText(e.T) + " on the capture's axis"
	}
	if w.m.Over.Duration() > 0 {
		p.Window = w.m.Over
	}
	for _, e := range w.s.Events {
		if w.view.Contains(e.T) {
			p.Events = append(p.Events, event{T: e.T})
		}
	}
	return p
}

// trace fills the panel of one role.
func (w *why) trace(p *panel, role result.Role) {
	if raw := w.s.Raw[role]; raw != nil && !same(raw, w.s.Traces[role]) {
		p.Curves = append(p.Curves, curve{"raw", rawPen(), decimate(raw, p.X, columns)})
	}
	own := rolePen(role)
	p.curve("trace", w.s.Traces[role], own)
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, line := range p.Curves[len(p.Curves)-1].Lines {
		for _, pt := range line {
			lo, hi = min(lo, pt.Y), max(hi, pt.Y)
		}
	}
	p.Tight = lo > 0.3*hi
	for _, c := range w.m.Drawing.Lines {
		if c.Role == role {
			p.Curves = append(p.Curves, curve{c.Trace.Name, w.constructionPen(c.Trace.Name), decimate(c.Trace, p.X, columns)})
		}
	}
	if e := w.edge; e != nil && !p.Tight {
		p.levels(role, e)
		p.Levels = p.Levels[max(len(p.Levels)-1, 0):] // the base alone
	}
	for _, m := range w.m.Drawing.Marks {
		if m.Role == role {
			p.Marks = append(p.Marks, mark{T: m.T, Y: m.Y, Label: minus(markLabel(m)), Pen: own})
			if strings.Contains(m.Label, "%") {
				p.Levels = append(p.Levels, level{Y: m.Y, Name: m.Label, Pen: levelPen()})
			}
		}
	}
	p.valueAxis(roleSymbol(role, w.s.IGBT()), role.Unit())
}

// same tells whether nothing was done to a trace.
func same(a, b *waveform.Trace) bool {
	return a.T0 == b.T0 && a.Dt == b.Dt && len(a.Y) == len(b.Y) && (len(a.Y) == 0 || &a.Y[0] == &b.Y[0])
}

// constructions lists the names of the lines that were drawn, each once.
func (w *why) constructions() []string {
	var names []string
	for _, c := range w.m.Drawing.Lines {
		if len(names) == 0 || names[len(names)-1] != c.Trace.Name {
			names = append(names, c.Trace.Name)
		}
	}
	return names
}

func (w *why) constructionPen(name string) pen {
	dashes := [][]vg.Length{{5, 2}, {2, 1.5}, {8, 2, 1.5, 2}}
	for k, n := range w.constructions() {
		if n == name {
			return pen{Color: ink(), Width: 0.8, Dash: dashes[k%len(dashes)]}
		}
	}
	return pen{Color: ink(), Width: 0.8}
}

// legend names the lines that their axes do not name.
func (w *why) legend() []legendEntry {
	var out []legendEntry
	for _, role := range w.roles() {
		if raw := w.s.Raw[role]; raw != nil && !same(raw, w.s.Traces[role]) {
			out = append(out, legendEntry{Pen: rawPen(), Text: "as recorded"})
			break
		}
	}
	for _, name := range w.constructions() {
		out = append(out, legendEntry{Pen: w.constructionPen(name), Text: name})
	}
	if w.edge != nil {
		out = append(out, legendEntry{Pen: basePen(), Text: "base of the levels"}, legendEntry{Pen: eventPen(), Text: "event: v at half the bus"})
	}
	if w.m.Over.Duration() > 0 {
		fill := pen{Color: windowFill(), Width: 7}
		out = append(out, legendEntry{Pen: fill, Text: "read on"})
	}
	return out
}

// notes tell the definition, what was done before, and the doubts.
func (w *why) notes() []string {
	var out []string
	if w.m.Definition != "" {
		out = append(out, "Definition: "+literal(w.m.Definition))
	}
	for _, d := range result.Definitions() {
		if d.Key == w.column.Key && d.Name == w.m.Definition {
			out[0] += literal(fmt.Sprintf(" (%s; source: %s)", d.Text, Source(d.Source, d.Sure)))
		}
	}
	if w.m.PerRing != 0 && !math.IsNaN(w.m.Value) {
		out = append(out, minus(fmt.Sprintf("A window that ends one period of the ringing later: %s (%+.2f %%)", unit.Format(w.m.PerRing, "J", 3), 100*w.m.PerRing/w.m.Value)))
	}
	if len(w.s.Corrections) > 0 {
		out = append(out, "Corrections: "+strings.Join(each(w.s.Corrections, correctionNote), "; "))
	}
	for _, x := range w.m.Warnings {
		out = append(out, literal(fmt.Sprintf("Warning %s: %s", x.Code, x.Text)))
	}
	for _, s := range w.m.Drawing.Sweeps {
		if flat(s) {
			out = append(out, minus(fmt.Sprintf("It does not change with %s (%s to %s).", s.Input, unit.Format(s.X[0], s.Unit, 2), unit.Format(s.X[len(s.X)-1], s.Unit, 2))))
		}
	}
	if len(w.m.Budget) == 0 {
		out = append(out, noBudget)
	}
	if w.style.Brief {
		return out
	}
	return append(out, literal(strings.Join(provenance(w.s), "; ")))
}

// columns returns the panels about the number itself, side by side.
func (w *why) columns() []column {
	var out []column
	add := func(title string, p *panel) {
		out = append(out, column{head: []heading{{8, 18, subs, title}}, panels: []*panel{p}})
	}
	for _, s := range w.m.Drawing.Sweeps {
		if p := w.sweep(s); p != nil && !flat(s) {
			add(map[bool]string{true: "Other levels", false: "Other lag"}[s.Unit == "1"], p)
		}
		if len(out) == 2 {
			break
		}
	}
	if len(w.m.Budget) > 0 && !math.IsNaN(w.m.Value) {
		add("u = "+unit.Format(w.m.U, w.m.Unit, 2)+" by input", w.budget())
	}
	if p := w.others(); p != nil {
		add(map[bool]string{true: "All branches", false: "Other definitions"}[ofBranch(w.m.Key)], p)
	}
	return out
}

// flat tells whether nothing to speak of depends on what was moved.
func flat(s result.Sweep) bool {
	lo, hi := slices.Min(s.Y), slices.Max(s.Y) // NaN if one of them is
	return hi-lo < 1e-3*math.Abs(hi)
}

// sweep shows the value with one input moved, between dashes the value with its
// expanded uncertainty. It returns nil where there is nothing to show.
func (w *why) sweep(s result.Sweep) *panel {
	var lines []plotter.XYs
	var line plotter.XYs
	n := 0
	for k, y := range s.Y {
		if y-y != 0 {
			lines, line = append(lines, line), nil
			continue
		}
		line = append(line, plotter.XY{X: s.X[k], Y: y})
		n++
	}
	lines = append(lines, line)
	if n < 3 {
		return nil
	}
	p := &panel{Name: "sweep of " + s.Input, Unit: w.m.Unit, Tight: true, XBase: s.Unit, TimeAxis: true, Curves: []curve{{s.Input, energyPen(), lines}}}
	p.X = waveform.Interval{From: s.X[0], To: s.X[len(s.X)-1]}
	room := 0.03 * p.X.Duration()
	p.X.From, p.X.To = p.X.From-room, p.X.To+room
	var label string
	p.XUnit, label = scaleFor(s.X, s.Unit)
	switch s.Unit {
	case "1":
		p.XUnit, label = 0.01, "%"
	case "s":
		p.XUnit, label = 1e-9, "ns"
	}
	p.XLabel = s.Input + " [" + label + "]"
	var yLabel string
	p.YUnit, yLabel = scaleFor([]float64{w.m.Value}, w.m.Unit)
	p.YLabel = axisLabel(result.Symbol(w.column.Key, w.s.IGBT()), yLabel)
	p.Levels = []level{{Y: w.m.Value, Name: "value", Pen: basePen()}}
	if known(w.m.U) {
		p.Levels = append(p.Levels, level{Y: w.m.Value - 2*w.m.U, Name: "value - U", Pen: levelPen()}, level{Y: w.m.Value + 2*w.m.U, Name: "value + U", Pen: levelPen()})
	}
	if s.Seen-s.Seen == 0 && math.Abs(s.Seen) > 0.05*p.X.Duration() {
		p.Events = []event{{T: s.Seen, Label: "seen lag taken out"}}
	}
	p.Marks = []mark{{T: s.At, Y: w.m.Value, Pen: energyPen(), Label: "as read"}}
	return p
}

// mostRows is how many inputs or definitions a panel lists.
const mostRows = 14

// budget lists what the uncertainty is made of: the change of the value by one
// standard uncertainty of each input.
func (w *why) budget() *panel {
	p := &panel{Name: "budget", TimeAxis: true}
	rest, total := 0.0, w.m.U*w.m.U
	for k, c := range w.m.Budget {
		if part := c.Effect * c.Effect / total; k >= mostRows/2 {
			rest += part
			continue
		}
		p.Rows = append(p.Rows, row{Label: literal(inWords(w.s, c.Source)), Note: share(c.Effect * c.Effect / total), X: c.Effect, U: math.NaN(), Pen: currentPen()})
	}
	if n := len(w.m.Budget) - len(p.Rows); n > 0 {
		p.Rows = append(p.Rows, row{Label: fmt.Sprintf("%d more", n), Note: share(rest), X: math.NaN()})
	}
	w.rowAxis(p, "change by one u of the input")
	return p
}

// share writes a part of the whole in per cent.
func share(x float64) string {
	if x < 0.005 {
		return "< 1 %"
	}
	return fmt.Sprintf("%.0f %%", 100*x)
}

// others lists the value under every definition, nil where there is one only.
func (w *why) others() *panel {
	p := &panel{Name: "other definitions", TimeAxis: true}
	for _, m := range w.s.Quantities {
		name, ok := strings.CutPrefix(m.Key, w.column.Key+".")
		if !ok || len(p.Rows) == 2*mostRows {
			continue
		}
		r := row{Label: literal(name), Note: minus(Num(m.Value, m.U, m.Unit)), X: m.Value, U: m.U, Dot: true, Pen: voltagePen()}
		if name == strings.SplitN(w.m.Definition, ":", 2)[0] || m.Key == w.m.Key {
			r.Pen = currentPen()
		}
		p.Rows = append(p.Rows, r)
	}
	if len(p.Rows) < 2 {
		return nil
	}
	w.rowAxis(p, result.Symbol(w.column.Key, w.s.IGBT()))
	return p
}

func (w *why) rowAxis(p *panel, name string) {
	p.X, p.Unit, p.XBase = rowRange(p.Rows), w.m.Unit, w.m.Unit
	var label string
	p.XUnit, label = scaleFor([]float64{p.X.From, p.X.To}, w.m.Unit)
	p.XLabel = axisLabel(name, label)
}

package reports

import (
	"fmt"
	"math"
	"strings"

	"gonum.org/v1/plot/vg"

	"slewbook/dpt/result"
	"slewbook/waveform"
)

// Room on the page, in points.
const (
	margin   = 16  // around everything
	axisRoom = 40  // left of a data area, for its labels
	timeRoom = 34  // below a stack, for its time axis
	gapRoom  = 6   // between stacked panels
	headRoom = 27  // above the panels of an edge, for its two title lines
	noteSize = 6.5 // of the text in the box
	noteStep = 8.5 // from line to line in the box
)

// layout fills the page from the top: title, whole record, both edges, box.
func (f *Figure) layout(s *result.Shot) {
	width, height := vg.Length(f.size.Width)*vg.Millimeter, vg.Length(f.size.Height)*vg.Millimeter
	bottom := f.layoutNotes(s, width)
	top := f.layoutTitle(s, width, height-margin)

	edges := shownEdges(s)
	rows := vg.Length(len(shownRoles(s)))
	free := top - bottom - timeRoom - rows*gapRoom
	unit := free / rows // without an edge the record fills the page
	if len(edges) > 0 {
		stacks := each(edges, func(e *result.EdgeMarks) []*panel { return f.edge(s, e) })
		edgeRows := vg.Length(len(stacks[0]))
		for _, panels := range stacks {
			edgeRows = max(edgeRows, vg.Length(len(panels)))
		}
		free -= timeRoom + headRoom + edgeRows*gapRoom
		// A panel of the record is 0.62 of the height of a panel of an edge.
		edgeUnit := free / (0.62*rows + edgeRows)
		unit = 0.62 * edgeUnit
		f.layoutEdges(s, edges, stacks, width, bottom+timeRoom+headRoom+edgeRows*(edgeUnit+gapRoom), edgeUnit)
	}
	f.panels = append(stack(f.record(s), margin+axisRoom, width-margin, top, unit), f.panels...)
}

// layoutEdges puts the edges side by side; a single one takes the whole width.
func (f *Figure) layoutEdges(s *result.Shot, edges []*result.EdgeMarks, stacks [][]*panel, width, top, unit vg.Length) {
	share := (width - margin) / vg.Length(len(edges))
	for i, e := range edges {
		left := margin + axisRoom + vg.Length(i)*share
		right := left + share - axisRoom - margin
		f.addLine(left-axisRoom/2, top, 10, subs, edgeTitle(e))
		f.addLine(left-axisRoom/2, top-13, 7.5, subs, windowTitle(s, e))
		f.panels = append(f.panels, stack(stacks[i], left, right, top-headRoom, unit)...)
	}
}

// stack puts panels one below the other; the last one carries the time axis.
func stack(panels []*panel, left, right, top, height vg.Length) []*panel {
	for i, p := range panels {
		p.Area = vg.Rectangle{Min: vg.Point{X: left, Y: top - height}, Max: vg.Point{X: right, Y: top}}
		top -= height + gapRoom
		if i < len(panels)-1 {
			p.XLabel = ""
		}
	}
	return panels
}

func (f *Figure) addLine(x, y, size vg.Length, subscript bool, txt string) {
	f.texts = append(f.texts, line{vg.Point{X: x, Y: y}, size, subscript, txt})
}

// layoutTitle writes the name of the capture and its main figures, and returns
// where the panels may start.
func (f *Figure) layoutTitle(s *result.Shot, width, y vg.Length) vg.Length {
	for _, txt := range wrap(f.text(13, plain), printable(s.Capture, false), width-2*margin) {
		f.addLine(margin, y, 13, plain, txt)
		y -= 17
	}
	var items []string
	for _, key := range []string{"v_bus_off", "i_off", "v_peak", "v_bus_on", "i_on", "i_peak"} {
		if m := s.Quantity(key); m != nil && m.Value-m.Value == 0 {
			items = append(items, symbol(key, isIGBT(s))+" = "+valueText(m.Value, m.U, m.Unit, false))
		}
	}
	if len(items) > 0 {
		f.addLine(margin, y, 8, subs, strings.Join(items, "     "))
		y -= 13
	}
	return y - 8
}

// layoutNotes writes the box at the foot of the page and returns its top.
func (f *Figure) layoutNotes(s *result.Shot, width vg.Length) vg.Length {
	style := f.text(noteSize, plain)
	var lines []string
	for _, note := range notes(s) {
		lines = append(lines, wrap(style, note, width-2*margin-12)...)
	}
	top := vg.Length(margin + 7 + noteStep*float64(len(lines)))
	f.box = vg.Rectangle{Min: vg.Point{X: margin, Y: margin}, Max: vg.Point{X: width - margin, Y: top}}
	for i, txt := range lines {
		f.addLine(margin+6, top-4-noteStep*vg.Length(i), noteSize, plain, txt)
	}
	return top + 6
}

// notes are the paragraphs of the box.
func notes(s *result.Shot) []string {
	conditions := "Conditions: " + strings.Join(each(s.Conditions, conditionText), "; ")
	if len(s.Conditions) == 0 {
		conditions = "Conditions: none given"
	}
	out := []string{conditions}
	if len(s.Corrections) > 0 {
		out = append(out, "Corrections: "+strings.Join(each(s.Corrections, correctionText), "; "))
	}
	var missing []string
	for _, r := range mainRoles() {
		if s.Traces[r] == nil {
			missing = append(missing, string(r))
		}
	}
	if len(missing) > 0 {
		out = append(out, "Not shown, since the capture has no such channel: "+strings.Join(missing, ", "))
	}
	for _, edge := range []result.Edge{result.TurnOff, result.TurnOn} {
		if firstEdge(s, edge) == nil {
			out = append(out, edgeName(edge)+": none was measured in this capture")
		}
	}
	if n := len(s.Edges) - len(shownEdges(s)); n > 0 {
		out = append(out, fmt.Sprintf("%d more measured edge(s) are not shown", n))
	}
	if all := allWarnings(s); len(all) > 0 {
		out = append(out, "Warnings: "+strings.ReplaceAll(codes(all), " ", ", "))
	}
	out = append(out, "Lines: solid = corrected trace, thin grey = raw where it differs; long dashes = base of the levels, dotted = 10 and 90 % of it; dash-dotted = event (v at half the bus); shaded = energy window; rings = what was read off")
	return append(out, provenance(s))
}

func provenance(s *result.Shot) string {
	short := func(hash string) string { return hash[:min(12, len(hash))] }
	return printable(fmt.Sprintf("slewbook %s; settings %s; files %s; sha256 %s", s.Version, short(s.Settings),
		strings.Join(s.Files, ", "), strings.Join(each(s.SHA256, short), ", ")), false)
}

func conditionText(c result.Condition) string {
	if c.Text != "" {
		return printable(c.Key+" "+c.Text, false) // as written: no digit more, none less
	}
	return printable(c.Key+" ", false) + minus(valueText(c.Value, math.NaN(), c.Unit, false))
}

func correctionText(c result.Correction) string {
	show := func(x float64, unit string) string { return minus(valueText(x, math.NaN(), unit, false)) }
	txt := fmt.Sprintf("%s %s %s", c.Channel, c.Kind, show(c.Value, c.Unit))
	if !math.IsNaN(c.EOff) && !math.IsNaN(c.EOn) {
		txt += fmt.Sprintf(" (changes e_off by %s, e_on by %s)", show(c.EOff, "J"), show(c.EOn, "J"))
	}
	return txt
}

func allWarnings(s *result.Shot) []waveform.Warning {
	all := append([]waveform.Warning{}, s.Warnings...)
	for _, m := range s.Quantities {
		all = append(all, m.Warnings...)
	}
	return all
}

func mainRoles() []result.Role { return []result.Role{result.Vds, result.Id, result.Vgs} }

// shownRoles lists the main roles that the shot has a trace of.
func shownRoles(s *result.Shot) []result.Role {
	var out []result.Role
	for _, r := range mainRoles() {
		if s.Traces[r] != nil {
			out = append(out, r)
		}
	}
	return out
}

func firstEdge(s *result.Shot, edge result.Edge) *result.EdgeMarks {
	for i := range s.Edges {
		if s.Edges[i].Edge == edge {
			return &s.Edges[i]
		}
	}
	return nil
}

// shownEdges lists the first measured edge of each kind.
func shownEdges(s *result.Shot) []*result.EdgeMarks {
	var out []*result.EdgeMarks
	for _, edge := range []result.Edge{result.TurnOff, result.TurnOn} {
		if e := firstEdge(s, edge); e != nil {
			out = append(out, e)
		}
	}
	return out
}

package reports

import (
	"strings"

	"gonum.org/v1/plot/vg"

	"slewbook/dpt/result"
)

// titleGap separates headings from panels and leaves room for the labels of
// events.
const titleGap = 8

// wholeFigure shows the whole record above and the edges below it.
func wholeFigure(s *result.Shot, style Style) *Figure {
	f := newFigure(style, "")
	sh := sheet{head: f.title(s, 13), record: record(s), notes: notes(s, style)}
	edges := shownEdges(s)
	for i, e := range edges {
		_, width := f.columnSpan(i, len(edges))
		sh.columns = append(sh.columns, column{f.edgeHead(s, e, width), edgePanels(s, e)})
	}
	f.provenance = provenance(s)
	f.fill(sh)
	return f
}

// recordFigure shows the whole record alone.
func recordFigure(s *result.Shot, style Style) *Figure {
	f := newFigure(style, "record")
	f.provenance = provenance(s)
	f.fill(sheet{head: f.title(s, 10), record: record(s), notes: notes(s, style)})
	return f
}

// edgeFigure shows one edge alone; on a wide page power and energy stand beside
// what was recorded.
func edgeFigure(s *result.Shot, e *result.EdgeMarks, style Style) *Figure {
	f := newFigure(style, string(e.Edge))
	f.provenance = provenance(s)
	panels := edgePanels(s, e)
	columns := []column{{panels: panels}}
	all := append([]string{"Capture: " + literal(printable(s.Capture, false))}, notes(s, style)...)
	if n := len(shownRoles(s)); f.wide() && len(panels) > n {
		columns = []column{{panels: panels[:n]}, {panels: panels[n:]}}
	}
	_, width := f.columnSpan(0, 1)
	f.fill(sheet{head: f.edgeHead(s, e, width), columns: columns, notes: all})
	return f
}

// title is the name of the capture and its main quantities.
func (f *Figure) title(s *result.Shot, size vg.Length) []heading {
	width := f.width - 2*f.style.length(f.style.Margin)
	out := f.headings(size, plain, printable(s.Capture, false), width)
	var items []string
	for _, key := range []string{"v_bus_off", "i_off", "v_peak", "v_bus_on", "i_on", "i_peak"} {
		if m := s.Quantity(key); m != nil && m.Value-m.Value == 0 {
			items = append(items, strings.ReplaceAll(result.Symbol(key, s.IGBT())+" = "+valueText(m.Value, m.U, m.Unit, false), " ", "\u00a0"))
		}
	}
	if len(items) > 0 {
		out = append(out, f.headings(8, subs, strings.Join(items, "\u00a0\u00a0\u00a0 "), width)...)
	}
	return withGap(out, 2+titleGap)
}

// edgeHead is the name of the edge with its energy and window.
func (f *Figure) edgeHead(s *result.Shot, e *result.EdgeMarks, width vg.Length) []heading {
	out := f.headings(10, subs, edgeTitle(e), width)
	return withGap(append(out, f.headings(7.5, subs, windowTitle(s, e), width)...), 4)
}

func withGap(lines []heading, gap vg.Length) []heading {
	lines[len(lines)-1].step += gap
	return lines
}

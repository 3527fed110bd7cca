package reports

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"slewbook/dpt/result"
	"slewbook/waveform"
)

// OverlayNames lists what overlays may vary; the last one stands for each of
// the others in turn and for all shots over each other.
func OverlayNames() []string { return []string{"bus", "current", "rg", "temperature", "all"} }

// CheckOverlay tells whether overlays can vary that.
func CheckOverlay(name string) error {
	if slices.Contains(OverlayNames(), name) {
		return nil
	}
	return fmt.Errorf("overlay %q: expected %s", name, strings.Join(OverlayNames(), ", "))
}

// everything is the kind of an overlay of all shots of an edge.
const everything = conditionKinds

// DrawOverlays lays out a figure for each group of at least two cuts whose
// shots differ in the named condition only; with "all", for each of the
// conditions in turn and for all cuts of each edge. Bus and current count as
// the same within 5 %. Figure.Part is a name for its file.
func DrawOverlays(cuts []Cut, name string, style Style) ([]*Figure, error) {
	if err := CheckOverlay(name); err != nil {
		return nil, err
	}
	if err := style.Validate(); err != nil {
		return nil, err
	}
	cuts = slices.Clone(cuts)
	for _, edge := range []result.Edge{result.TurnOff, result.TurnOn} {
		for _, kind := range []int{busKind, currentKind} {
			unite(cuts, edge, kind)
		}
	}
	kinds := []int{slices.Index(OverlayNames(), name)}
	if kinds[0] == everything {
		kinds = []int{busKind, currentKind, rgKind, temperatureKind, everything}
	}
	var out []*Figure
	for _, edge := range []result.Edge{result.TurnOff, result.TurnOn} {
		for _, kind := range kinds {
			for k, group := range groups(cuts, edge, kind) {
				out = append(out, overlayFigure(group, kind, fmt.Sprintf("%s-%s-%02d", edge, OverlayNames()[kind], k+1), style))
			}
		}
	}
	return out, nil
}

// sameWithin is how close two buses or currents count as the same, relative to
// the smaller: closer than the steps of a test plan, wider than the spread of a
// bench (common practice, no source).
const sameWithin = 0.05

// unite gives cuts of about the same bus or current the mean of them.
func unite(cuts []Cut, edge result.Edge, kind int) {
	var at []int
	for k := range cuts {
		if cuts[k].Edge == edge && !math.IsNaN(cuts[k].values[kind]) {
			at = append(at, k)
		}
	}
	value := func(k int) float64 { return cuts[k].values[kind] }
	slices.SortStableFunc(at, func(a, b int) int { return compare(value(a), value(b)) })
	for start := 0; start < len(at); {
		end, sum := start, 0.0
		for end < len(at) && value(at[end]) <= value(at[start])+sameWithin*math.Abs(value(at[start])) {
			sum += value(at[end])
			end++
		}
		for _, k := range at[start:end] {
			cuts[k].values[kind] = sum / float64(end-start)
		}
		start = end
	}
}

func compare(a, b float64) int {
	switch {
	case a < b || math.IsNaN(a) && !math.IsNaN(b):
		return -1
	case a > b || math.IsNaN(b) && !math.IsNaN(a):
		return 1
	}
	return 0
}

// groups returns the groups of cuts that differ in that condition only, each
// sorted by its conditions, in the order of their first cuts.
func groups(cuts []Cut, edge result.Edge, kind int) [][]Cut {
	byKey := map[string][]Cut{}
	var order []string
	for _, c := range cuts {
		if c.Edge != edge {
			continue
		}
		key := ""
		if kind != everything {
			rest := c.values
			rest[kind] = 0
			key = fmt.Sprint(rest, c.others)
		}
		if byKey[key] == nil {
			order = append(order, key)
		}
		byKey[key] = append(byKey[key], c)
	}
	var out [][]Cut
	for _, key := range order {
		group := byKey[key]
		slices.SortStableFunc(group, func(a, b Cut) int { return slices.CompareFunc(a.values[:], b.values[:], compare) })
		if len(group) > 1 && (kind == everything || group[0].values[kind] != group[len(group)-1].values[kind]) {
			out = append(out, group)
		}
	}
	return out
}

// mostLines is how many shots are drawn as lines; more become a density.
const mostLines = 12

// overlayFigure lays out one group.
func overlayFigure(group []Cut, kind int, name string, style Style) *Figure {
	f := newFigure(style, name)
	drawn := slices.DeleteFunc(slices.Clone(group), func(c Cut) bool { return c.missing != "" })
	edge := group[0].Edge
	width := f.width - 2*f.style.length(f.style.Margin)
	what := [...]string{"several bus voltages", "several currents", "several gate resistors", "several temperatures", "all conditions"}[kind]
	head := f.headings(10, subs, edgeName(edge)+" at "+what, width)
	common, varied := sharedConditions(group)
	line := fmt.Sprintf("%d shots", len(drawn))
	if len(common) > 0 {
		line += " at " + strings.Join(each(common, group[0].conditionLabel), ", ")
	}
	head = append(head, f.headings(7.5, subs, line, width)...)
	sh := sheet{head: withGap(head, 4), columns: []column{{}}, notes: overlayNotes(group)}
	if len(drawn) <= mostLines {
		sh.columns[0].panels, sh.legend = linePanels(drawn, varied)
	} else {
		sh.columns[0].panels, sh.legend = densityPanels(drawn)
		if len(varied) > 0 {
			sh.notes = append(sh.notes, "Range: "+ranges(drawn, varied))
		}
	}
	for _, c := range drawn {
		f.provenance = append(f.provenance, "capture "+printable(c.Capture, false))
	}
	f.fill(sh)
	return f
}

// sharedConditions splits the known conditions into those that all cuts have in
// common and the others.
func sharedConditions(group []Cut) (common, varied []int) {
	for kind := range conditionKinds {
		first := group[0].conditionLabel(kind)
		switch same := !slices.ContainsFunc(group, func(c Cut) bool { return c.conditionLabel(kind) != first }); {
		case !same:
			varied = append(varied, kind)
		case !math.IsNaN(group[0].values[kind]):
			common = append(common, kind)
		}
	}
	return common, varied
}

func overlayNotes(group []Cut) []string {
	reference := "v passes half the bus"
	if group[0].Edge == result.TurnOn {
		reference = "i passes half the load current"
	}
	out := []string{"Time 0 of each shot: where " + reference + "."}
	if others := group[0].others; others != "" && !slices.ContainsFunc(group, func(c Cut) bool { return c.others != others }) {
		out = append(out, "Conditions of all: "+others)
	}
	flagged := map[string]int{}
	for _, c := range group {
		if c.missing != "" {
			out = append(out, "Left out: "+literal(printable(c.Capture, false))+", since "+c.missing)
		}
		for _, code := range c.codes {
			flagged[code]++
		}
	}
	var items []string
	for code, n := range flagged {
		items = append(items, fmt.Sprintf("%s (%d of %d)", code, n, len(group)))
	}
	slices.Sort(items)
	if len(items) > 0 {
		out = append(out, "Warnings: "+strings.Join(items, ", "))
	}
	return out
}

// ranges state from where to where conditions vary, those that are known.
func ranges(group []Cut, varied []int) string {
	items := each(varied, func(kind int) string {
		known := slices.DeleteFunc(slices.Clone(group), func(c Cut) bool { return math.IsNaN(c.values[kind]) })
		slices.SortFunc(known, func(a, b Cut) int { return compare(a.values[kind], b.values[kind]) })
		_, to, _ := strings.Cut(known[len(known)-1].conditionLabel(kind), " = ")
		return known[0].conditionLabel(kind) + " to " + to
	})
	return strings.Join(items, ", ")
}

// overlayPanels returns empty panels for the roles that all cuts have, on the
// time axis that shows all their edges.
func overlayPanels(group []Cut) (panels []*panel, roles []result.Role) {
	if len(group) == 0 {
		return nil, nil
	}
	label := "time after v passes half the bus [ns]"
	if group[0].Edge == result.TurnOn {
		label = "time after i passes half the load current [ns]"
	}
	for _, role := range mainRoles() {
		if slices.ContainsFunc(group, func(c Cut) bool { return c.curves[role] == nil }) {
			continue
		}
		roles = append(roles, role)
		panels = append(panels, &panel{Name: string(role), X: sharedView(group), XUnit: 1e-9, XLabel: label, Events: []event{{}}})
	}
	return panels, roles
}

// sharedView returns the time axis that shows all edges, but where a few shots
// are far slower than half of them.
func sharedView(group []Cut) waveform.Interval {
	from := slices.Sorted(slices.Values(each(group, func(c Cut) float64 { return -c.view.From })))
	to := slices.Sorted(slices.Values(each(group, func(c Cut) float64 { return c.view.To })))
	far := func(sorted []float64) float64 { return min(sorted[len(sorted)-1], 2*sorted[len(sorted)/2]) }
	return waveform.Interval{From: -far(from), To: far(to)}
}

// linePanels draws each cut as a line; those of the same conditions share a pen
// and an entry of the legend.
func linePanels(group []Cut, varied []int) ([]*panel, []legendEntry) {
	label := func(c Cut) string { return strings.Join(each(varied, c.conditionLabel), ", ") }
	if len(varied) == 0 {
		label = func(c Cut) string { return literal(printable(c.Capture, false)) }
	}
	labels := slices.Compact(each(group, label))
	panels, roles := overlayPanels(group)
	for i, p := range panels {
		for _, c := range group {
			style := overlayPen(slices.Index(labels, label(c)), len(labels))
			p.Curves = append(p.Curves, curve{c.Capture, style, inside(c.curves[roles[i]], p.X)})
		}
		p.valueAxis(roleSymbol(roles[i], group[0].igbt), roles[i].Unit())
	}
	return panels, each(labels, func(txt string) legendEntry {
		return legendEntry{Pen: overlayPen(slices.Index(labels, txt), len(labels)), Text: txt}
	})
}

// densityPanels counts in each cell of a raster how many cuts pass it.
func densityPanels(group []Cut) ([]*panel, []legendEntry) {
	panels, roles := overlayPanels(group)
	steps := densitySteps(len(group))
	for i, p := range panels {
		p.Density = newDensity(group, roles[i], p.X, steps)
		p.valueAxis(roleSymbol(roles[i], group[0].igbt), roles[i].Unit())
	}
	return panels, each(steps, func(least int) legendEntry {
		return legendEntry{Pen: pen{Color: densityColor(slices.Index(steps, least), len(steps)), Width: 7}, Text: ifElse(least == 1, "1 shot or more", fmt.Sprintf("%d or more", least))}
	})
}

package reports

import (
	"strings"

	"gonum.org/v1/plot/vg"

	"slewbook/dpt/result"
)

// Room on the page, in points of the layout.
const (
	axisRoom  = 40  // left of a data area, for its labels
	timeRoom  = 34  // below a stack, for its time axis
	gapRoom   = 6   // between stacked panels
	between   = 16  // between stacks side by side
	noteSize  = 6.5 // of the text in the box
	noteStep  = 8.5 // from line to line in the box
	leastRoom = 34  // height of a panel under which the page grows
)

// heading is one line above panels, step the way down to what follows.
type heading struct {
	size, step vg.Length
	subscript  bool
	text       string
}

// column is a stack of panels with its headings.
type column struct {
	head   []heading
	panels []*panel
}

// sheet is what a page holds, from the top: headings, the panels of the record,
// columns of panels side by side, the entries of a legend, a box with notes.
// Each part may be empty.
type sheet struct {
	head    []heading
	record  []*panel
	columns []column
	legend  []legendEntry
	notes   []string
}

// recordShare is the height of a panel of the record where edges stand below
// it, relative to theirs.
const recordShare = 0.62

// fill lays the sheet out over the page.
func (f *Figure) fill(sh sheet) {
	margin := f.style.length(f.style.Margin)
	if f.wide() && len(sh.notes) > 0 {
		sh.notes = []string{strings.Join(sh.notes, "   |   ")}
	}
	notes := f.noteLines(sh.notes)
	legend := f.legendHeight(sh.legend)
	columnHead, rows := vg.Length(0), 0
	for _, c := range sh.columns {
		columnHead, rows = max(columnHead, stepsOf(c.head)), max(rows, len(c.panels))
	}
	fixed := 2*margin + stepsOf(sh.head) + legend + boxHeight(notes)
	weight, share := vg.Length(rows), vg.Length(1)
	if rows > 0 {
		share = recordShare
		fixed += columnHead + timeRoom + vg.Length(rows-1)*gapRoom
	}
	if n := vg.Length(len(sh.record)); n > 0 {
		weight += share * n
		fixed += timeRoom + (n-1)*gapRoom
	}
	unit := (f.height - fixed) / weight
	if least := leastRoom / share; unit < least {
		f.height += (least - unit) * weight
		unit = least
	}

	y := f.height - margin
	y = f.put(margin, y, sh.head)
	if len(sh.record) > 0 {
		f.stack(sh.record, margin+axisRoom, f.width-margin-between/2, y, share*unit)
		y -= vg.Length(len(sh.record))*(share*unit+gapRoom) - gapRoom + timeRoom
	}
	if rows > 0 {
		height := vg.Length(rows)*(unit+gapRoom) - gapRoom
		f.fillColumns(sh.columns, y, columnHead, height)
		y -= columnHead + height + timeRoom
	}
	f.placeLegend(sh.legend, y)
	f.fillBox(notes, y-legend)
}

// wide tells whether the page has less room in height than in width, as a slide.
func (f *Figure) wide() bool { return f.width > 1.4*f.height }

// fillColumns puts the columns side by side, their panels at the same height.
func (f *Figure) fillColumns(columns []column, y, head, height vg.Length) {
	for i, c := range columns {
		left, width := f.columnSpan(i, len(columns))
		f.put(left, y, c.head)
		n := vg.Length(len(c.panels))
		f.stack(c.panels, left+axisRoom, left+width, y-head, (height+gapRoom)/n-gapRoom)
	}
}

// columnSpan returns where the i-th of n columns starts and how wide it is.
func (f *Figure) columnSpan(i, n int) (left, width vg.Length) {
	margin := f.style.length(f.style.Margin)
	share := (f.width - 2*margin) / vg.Length(n)
	return margin + vg.Length(i)*share, share - between/2
}

// stack puts panels one below the other; the last one carries the time axis.
func (f *Figure) stack(panels []*panel, left, right, top, height vg.Length) {
	for i, p := range panels {
		p.Area = vg.Rectangle{Min: vg.Point{X: left, Y: top - height}, Max: vg.Point{X: right, Y: top}}
		top -= height + gapRoom
		p.TimeAxis = i == len(panels)-1
		if len(p.Rows) > 0 {
			p.placeRows(f)
		}
	}
	f.panels = append(f.panels, panels...)
}

// put writes headings one below the other and returns where they end.
func (f *Figure) put(x, y vg.Length, lines []heading) vg.Length {
	for _, h := range lines {
		f.texts = append(f.texts, line{at: vg.Point{X: x, Y: y}, size: h.size, subscript: h.subscript, text: h.text})
		y -= h.step
	}
	return y
}

func stepsOf(lines []heading) (sum vg.Length) {
	for _, h := range lines {
		sum += h.step
	}
	return sum
}

// headings breaks a text into headings no wider than width.
func (f *Figure) headings(size vg.Length, subscript bool, txt string, width vg.Length) []heading {
	return each(wrap(f.text(size, subscript), txt, width), func(l string) heading {
		return heading{size, 1.3 * size, subscript, l}
	})
}

// noteLines breaks the notes into the lines of the box.
func (f *Figure) noteLines(notes []string) []string {
	width := f.width - 2*f.style.length(f.style.Margin) - 12
	var lines []string
	for _, note := range notes {
		lines = append(lines, wrap(f.text(noteSize, subs), note, width)...)
	}
	return lines
}

func boxHeight(lines []string) vg.Length {
	if len(lines) == 0 {
		return 0
	}
	return 7 + noteStep*vg.Length(len(lines))
}

// fillBox draws the notes in a box whose top is at y.
func (f *Figure) fillBox(lines []string, y vg.Length) {
	margin := f.style.length(f.style.Margin)
	f.box = vg.Rectangle{Min: vg.Point{X: margin, Y: y - boxHeight(lines)}, Max: vg.Point{X: f.width - margin, Y: y}}
	for i, txt := range lines {
		at := vg.Point{X: margin + 6, Y: y - 4 - noteStep*vg.Length(i)}
		f.texts = append(f.texts, line{at: at, size: noteSize, subscript: subs, text: txt})
	}
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

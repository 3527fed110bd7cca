package reports

import (
	"fmt"
	"io"
	"strings"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgpdf"

	"slewbook/dpt/result"
)

// Of the sheet's pages, in points of the layout.
const (
	sheetText  = 8.5 // size of its text
	sheetSmall = 7   // and of its table
	sheetFree  = 62  // width of the column for what was seen
	sheetBox   = 26  // and of the one to tick
)

// WritePlanPDF writes the sheet of WritePlanSheet as A4 pages, the predicted waveforms a
// page each behind it. Letters are outlines, as in figures.
func WritePlanPDF(w io.Writer, p *result.Plan, pictures []Picture) error {
	pages := drawPlanSheet(newPlanSheetData(p), len(pictures))
	style := pages[0].style
	width, height := style.length(style.Width), style.length(style.Height)
	canvas := vgpdf.New(width, height)
	for n, f := range pages {
		if n > 0 {
			canvas.NextPage()
		}
		f.draw(draw.NewCanvas(&paper{Canvas: canvas, Zoom: 1}, f.width, f.height))
	}
	for _, x := range pictures {
		canvas.NextPage()
		f := x.Figure
		zoom := min(width/f.width, height/f.height)
		canvas.Push()
		canvas.Translate(vg.Point{X: (width - zoom*f.width) / 2, Y: height - zoom*f.height})
		f.draw(draw.NewCanvas(&paper{Canvas: canvas, Zoom: zoom}, f.width, f.height))
		canvas.Pop()
	}
	_, err := canvas.WriteTo(w)
	return err
}

// sheetPages is a text on its way down the pages.
type sheetPages struct {
	style Style
	pages []*Figure
	y     vg.Length // where the last page is free
}

func drawPlanSheet(d planSheetData, pictures int) []*Figure {
	s := &sheetPages{style: Style{Name: "sheet", Width: 210, Height: 297, Margin: 12, Text: 8, DPI: 150}}
	s.next()
	s.text(15, "", "Plan of a double-pulse test", 8)
	top := s.y
	s.y -= 6
	for _, txt := range d.Energy {
		s.text(13, "   ", txt, 2)
	}
	s.y -= 2
	s.pages[0].box = vg.Rectangle{Min: vg.Point{X: s.margin(), Y: s.y}, Max: vg.Point{X: s.page().width - s.margin(), Y: top}}
	s.y -= 8
	s.text(sheetText, "", fmt.Sprintf("COMPUTED, NOT ALLOWED. %d points, %d shots, from low to high. Date, place, people, who holds the arm control:", d.Points, d.Shots), 26)
	s.list("Cautions", d.Cautions)
	s.list("Stop, and find out why, before the next shot", d.Stops)
	s.heading("Shots, in this order")
	if len(d.Rows) == 0 {
		s.text(sheetText, "", "None: every point breaks a limit.", 0)
	} else {
		s.table(d.Head, d.Rows)
	}
	s.list("Not to be taken", d.Left)
	if len(d.Unchecked) > 0 {
		s.heading("Not checked, since nothing is known of it")
		s.text(sheetText, "", strings.Join(d.Unchecked, "; ")+".", 0)
	}
	if pictures > 0 {
		s.heading("What to expect")
		s.text(sheetText, "", "On the pages behind: predicted on an invented device under this bench's pulses; the shape of an honest shot, no figures of the real one: current, bus and sag are the plan's, slopes, recovery and peaks the invented device's.", 0)
	}
	for n, f := range s.pages {
		f.texts = append(f.texts, line{at: vg.Point{X: f.width - s.margin(), Y: s.margin() - 4}, size: sheetSmall, text: fmt.Sprintf("Plan of a double-pulse test, page %d of %d", n+1, len(s.pages)+pictures), right: true})
	}
	return s.pages
}

func (s *sheetPages) page() *Figure     { return s.pages[len(s.pages)-1] }
func (s *sheetPages) margin() vg.Length { return s.style.length(s.style.Margin) }

// next begins a page.
func (s *sheetPages) next() {
	s.pages = append(s.pages, newFigure(s.style, "sheet"))
	s.y = s.page().height - s.margin()
}

// need begins a page if less than that height is left on this one, and tells so.
func (s *sheetPages) need(height vg.Length) bool {
	if s.y-height >= s.margin() {
		return false
	}
	s.next()
	return true
}

// text writes a text behind a mark, its further lines indented as far, and leaves a gap.
func (s *sheetPages) text(size vg.Length, mark, txt string, gap vg.Length) {
	f := s.page()
	indent := f.text(size, plain).Width(mark)
	for n, h := range f.headings(size, plain, printable(txt, false), f.width-2*s.margin()-2*indent) {
		s.need(h.step)
		if n == 0 && strings.TrimSpace(mark) != "" {
			s.put(s.margin(), size, mark)
		}
		s.put(s.margin()+indent, size, h.text)
		s.y -= h.step
	}
	s.y -= gap
}

func (s *sheetPages) put(x, size vg.Length, txt string) {
	s.page().texts = append(s.page().texts, line{at: vg.Point{X: x, Y: s.y}, size: size, text: txt})
}

// heading keeps room for a few lines below it.
func (s *sheetPages) heading(txt string) {
	s.need(60)
	s.y -= 8
	s.text(11, "", txt, 3)
}

// list writes items below a heading, nothing where there are none.
func (s *sheetPages) list(head string, items []string) {
	if len(items) == 0 {
		return
	}
	s.heading(head)
	for _, txt := range items {
		s.text(sheetText, "– ", txt, 1)
	}
}

// table writes a row a point with a box to tick and room for what is seen; its head is
// repeated on each page.
func (s *sheetPages) table(head []string, rows [][]string) {
	f := s.page()
	const step = 13
	columns := vg.Length(len(head))
	left, right := s.margin(), f.width-s.margin()
	free := right - sheetFree
	box := free - sheetBox
	first := f.text(sheetSmall, plain).Width("point ×99") + 4
	width := (box - left - first) / columns
	rule := func() {
		s.page().rules = append(s.page().rules, [2]vg.Point{{X: left, Y: s.y}, {X: right, Y: s.y}})
	}
	row := func(cells []string, below vg.Length) {
		for k, txt := range cells {
			x := left + first + vg.Length(k)*width - 4
			s.page().texts = append(s.page().texts, line{at: vg.Point{X: x, Y: s.y - below}, size: sheetSmall, text: txt, right: true})
		}
	}
	uprights := func(from vg.Length) {
		for _, x := range []vg.Length{left, box, free, right} {
			s.page().rules = append(s.page().rules, [2]vg.Point{{X: x, Y: from}, {X: x, Y: s.y}})
		}
	}
	var names, units []string
	for _, h := range head {
		name, unit, _ := strings.Cut(h, " ")
		names, units = append(names, name), append(units, unit)
	}
	top := func() vg.Length {
		from := s.y
		rule()
		row(append([]string{"point"}, names...), 2)
		row(append([]string{""}, units...), 2+0.7*step)
		s.put(box+3, sheetSmall, "taken")
		s.put(free+3, sheetSmall, "seen")
		s.y -= 1.8 * step
		rule()
		return from
	}
	from := top()
	for _, cells := range rows {
		if s.y-step < s.margin() {
			uprights(from)
			s.next()
			from = top()
		}
		row(cells, 3)
		s.y -= step
		rule()
	}
	uprights(from)
	s.y -= 4
}

package reports

import (
	"fmt"
	"strings"

	"gonum.org/v1/plot/vg"
)

// Style says for which page a figure is drawn. Lines, marks and all letters
// scale with Text.
type Style struct {
	Name          string
	Width, Height float64 // of the page [mm]; it grows in height where its text needs more
	Margin        float64 // around everything [mm]
	Text          float64 // size of the letters at the axes [pt]; the smallest ones are 0.81 of it
	DPI           int     // dots per inch of a PNG
	Split         bool    // the record and each edge are figures of their own
	Brief         bool    // provenance stands in the CSV beside the figure only
}

// Styles lists the styles, the default first. The widths of the columns are
// those of common journal pages (common practice, no source); the slide is
// 13.33 inch by 7.5 inch.
func Styles() []Style {
	return []Style{
		{Name: "screen", Width: 260, Height: 290, Margin: 5.6, Text: 8, DPI: 120},
		{Name: "one-column", Width: 88, Height: 135, Margin: 1, Text: 7.5, DPI: 300, Split: true, Brief: true},
		{Name: "two-column", Width: 180, Height: 215, Margin: 1, Text: 7.5, DPI: 300, Brief: true},
		{Name: "slide", Width: 338.67, Height: 190.5, Margin: 8, Text: 15, DPI: 144, Split: true, Brief: true},
	}
}

// FindStyle returns the style of that name.
func FindStyle(name string) (Style, error) {
	var names []string
	for _, s := range Styles() {
		if s.Name == name {
			return s, nil
		}
		names = append(names, s.Name)
	}
	return Style{}, fmt.Errorf("figure style %q: expected %s", name, strings.Join(names, ", "))
}

// Validate tells whether there is room for the panels.
func (s Style) Validate() error {
	switch {
	case !(s.Text >= 4 && s.Text <= 40):
		return fmt.Errorf("figure style %q: letters of %g pt; expected 4 to 40 pt", s.Name, s.Text)
	case !(s.Margin >= 0 && s.Margin <= 50):
		return fmt.Errorf("figure style %q: a margin of %g mm; expected 0 to 50 mm", s.Name, s.Margin)
	case !(s.Width >= 10*s.Text && s.Width <= 2000 && s.Height >= 10*s.Text && s.Height <= 2000):
		return fmt.Errorf("figure style %q: a page of %g mm by %g mm with letters of %g pt; expected %g to 2000 mm each way",
			s.Name, s.Width, s.Height, s.Text, 10*s.Text)
	case s.DPI < 30 || s.DPI > 1200:
		return fmt.Errorf("figure style %q: %d dots per inch; expected 30 to 1200", s.Name, s.DPI)
	}
	return nil
}

// zoom is the size on paper of one point of the layout, which is done as if the
// letters at the axes were 8 pt.
func (s Style) zoom() float64 { return s.Text / 8 }

// length returns a length on paper in points of the layout.
func (s Style) length(mm float64) vg.Length {
	return vg.Length(mm/s.zoom()) * vg.Millimeter
}

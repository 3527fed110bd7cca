package reports

import (
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"

	"slewbook/dpt/result"
)

// WriteLookText writes what captures hold for people: the layout, the sampling
// and a row for each channel with its role, how that was decided, its range and
// its doubts.
func WriteLookText(w io.Writer, looks []*result.Look, opt TextOptions) error {
	t := textTable{opt: opt}
	for _, l := range looks {
		t.look(l)
	}
	return t.write(w)
}

func (t *textTable) look(l *result.Look) {
	t.printf("%s\n", t.opt.paint(bold, printable(l.Capture, t.opt.ASCII)))
	for _, file := range l.Files {
		t.para("  file      ", printable(file, t.opt.ASCII))
	}
	if l.Err != nil {
		t.para("  "+t.opt.paint(red, "not read")+"  ", t.sentence(l.Err.Error()))
	} else {
		t.para("  layout    ", t.sentence(l.Layout))
		if l.Grouping != "" {
			t.para("  grouping  ", t.sentence(l.Grouping))
		}
		t.para("  sampling  ", t.sampling(l))
		t.otherAxes(l)
		t.channels(l.Channels)
		t.missingRoles(l.Channels)
	}
	for _, warning := range l.Warnings {
		t.para("  warning   ", t.sentence(warningText(warning)))
	}
	t.printf("\n")
}

// missingRoles tells which of the roles that measuring needs no channel has.
func (t *textTable) missingRoles(channels []result.Channel) {
	for _, need := range []result.Role{result.Vds, result.Id} {
		if !slices.ContainsFunc(channels, func(c result.Channel) bool { return c.Role == need }) {
			t.para("  missing   ", fmt.Sprintf("no channel has the role %s, which measure needs; name it with channel.%s.source in a set-up file", need, need))
		}
	}
}

// otherAxes tells the sampling of channels that differ in it from the first.
func (t *textTable) otherAxes(l *result.Look) {
	for _, c := range l.Channels {
		if ownAxis(l, c) {
			t.para("            ", printable(c.Name, t.opt.ASCII)+": "+t.axis(c.Points, c.T0, c.Dt))
		}
	}
}

// ownAxis tells whether a channel has another sampling than the first.
func ownAxis(l *result.Look, c result.Channel) bool {
	return c.Points > 0 && c.Dt > 0 && (c.Points != l.Points || c.T0 != l.T0 || c.Dt != l.Dt)
}

func (t *textTable) sampling(l *result.Look) string {
	txt := t.axis(l.Points, l.T0, l.Dt)
	if l.Segments > 1 {
		txt += fmt.Sprintf("; one of %d segments in the file", l.Segments)
	}
	return txt
}

// axis tells how many points there are and when they were taken.
func (t *textTable) axis(points int, t0, dt float64) string {
	show := func(x float64) string { // to seven digits: an interval is exact
		size, label := scaleFor([]float64{x}, "s")
		return strconv.FormatFloat(x/size, 'g', 7, 64) + " " + unitLabel(label, t.opt.ASCII)
	}
	return fmt.Sprintf("%d points, one every %s, from %s to %s", points, show(dt), show(t0), show(t0+float64(points-1)*dt))
}

// channels writes the rows of the channels, then how each role was decided.
func (t *textTable) channels(channels []result.Channel) {
	rows := [][]string{{"channel", "role", "sure", "min", "max", "first", "last", "over range"}}
	for _, c := range channels {
		show := func(x float64) string {
			if x-x != 0 {
				return "-"
			}
			return valueText(x, math.NaN(), c.Unit, t.opt.ASCII)
		}
		role, sure := "none", "-"
		if c.Role != "" {
			role, sure = string(c.Role), fmt.Sprintf("%.0f %%", 100*c.Sure)
		}
		rows = append(rows, []string{printable(c.Name, t.opt.ASCII), role, sure, show(c.Min), show(c.Max), show(c.First), show(c.Last), fmt.Sprint(c.OverRange)})
	}
	t.rows(Table{Rows: rows, Keys: 1, Words: 2, Indent: 2})
	for _, c := range channels {
		if c.Basis != "" {
			t.para("  "+printable(c.Name, t.opt.ASCII)+": ", t.sentence(c.Basis))
		}
	}
}

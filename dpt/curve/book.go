package curve

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"slewbook/dpt/result"
)

// Book is all that is made of a campaign: charts, tables and grids.
type Book struct {
	Series  []*Series
	Charts  []*result.Chart
	Spreads []result.Spread
	Grids   []*Grid
	Rounded []Rounded // the energies, brought to round test points
	Lacks   []string  // what could not be made, and why
	Notes   []string  // what stands out, and what was put together
}

// BookOptions say what is made.
type BookOptions struct {
	Options
	Keys  []string // empty for those that vary with the conditions by nature
	By    string   // condition of which each value has lines, surfaces and grids of its own; "" for none
	Power bool     // power laws in the current in place of a + bI + cI²
	Axes  map[Variable][]float64
}

// bookKeys are the quantities of a book where none is asked for.
var bookKeys = []string{"e_on", "e_off", "e_rr", "e_tot", "dvdt_on", "dvdt_off", "didt_on", "didt_off", "v_overshoot", "v_peak", "i_peak", "td_on", "td_off", "i_rrm", "t_rr", "q_rr", "l_loop"}

// InBook tells whether a book has a quantity where none is asked for.
func InBook(key string) bool { return slices.Contains(bookKeys, key) }

// NewBook makes the charts of every quantity over every condition that varies,
// the trade-offs of energy against overshoot and slope, and a grid of every
// energy. A quantity of unlike definitions has none, which is an error where it was
// asked for and a note else.
func NewBook(shots []*result.Shot, opt BookOptions) (*Book, error) {
	keys := opt.Keys
	if len(keys) == 0 {
		has := Keys(shots)
		for _, k := range bookKeys {
			if slices.Contains(has, k) {
				keys = append(keys, k)
			}
		}
	}
	b := &Book{Notes: append(Copies(shots), pooled(shots, opt.By)...)}
	byKey := map[string]*Series{}
	for _, key := range keys {
		s, err := Collect(shots, key)
		if err != nil && len(opt.Keys) == 0 {
			b.Notes = append(b.Notes, "no curve of "+err.Error())
			continue
		}
		if err != nil {
			return nil, err
		}
		if len(s.Points) == 0 {
			b.Lacks = append(b.Lacks, key+": no shot has a value")
			continue
		}
		if opt.By != "" {
			s.split(shots, opt.By)
		}
		b.Series, byKey[key] = append(b.Series, s), s
		b.add(s, shots, opt)
	}
	for _, pair := range [][2]string{{"e_off", "v_overshoot"}, {"e_off", "v_peak"}, {"e_off", "dvdt_off"}, {"e_on", "dvdt_on"}, {"e_on", "i_peak"}} {
		if y, x := byKey[pair[0]], byKey[pair[1]]; y != nil && x != nil {
			b.Charts = append(b.Charts, TradeOffs(y, x)...)
		}
	}
	return b, nil
}

func (b *Book) add(s *Series, shots []*result.Shot, opt BookOptions) {
	// Only an energy's surface is a product by experience; other quantities
	// stay where they were measured.
	surfaces := map[string]*Fit{} // by part
	if s.Unit == "J" {
		for _, part := range s.parts() {
			own := s.of(part)
			surface, err := LeastSurface(own.Points, opt.Power, opt.Options)
			if err != nil {
				b.Lacks = append(b.Lacks, join(part, s.Key+": no surface: "+err.Error()))
				continue
			}
			surfaces[part] = surface
			g := NewGrid(own, surface, opt.Axes)
			g.Part, g.Conditions = part, inCommon(own.shots(shots))
			b.Grids = append(b.Grids, g)
			b.Rounded = append(b.Rounded, own.rounded(surface, opt.Axes)...)
		}
	}
	for _, v := range []Variable{Current, Bus, Gate, Temperature} {
		b.Charts = append(b.Charts, s.charts(v, surfaces, opt)...)
	}
	for _, sp := range s.Spreads() {
		b.Spreads = append(b.Spreads, sp)
		if len(sp.Outliers) > 0 {
			b.Notes = append(b.Notes, fmt.Sprintf("%s at %s: %s stand out from %d repeats (modified z-score above %g); none is left out", s.Key, sp.Where, strings.Join(sp.Outliers, ", "), sp.N, standOutAt))
		}
	}
}

// PageSpreads picks for each quantity the set of conditions with the most
// shots, of several the one of the largest bus and current.
func (b *Book) PageSpreads() []result.Spread {
	var out []result.Spread
	for _, s := range b.Series {
		best, most, size := -1, 0, math.Inf(-1)
		gs, spreads := groups(s.Points, ""), s.Spreads()
		for k, g := range gs {
			if vi := g.at.V * g.at.I; len(g.points) > most || len(g.points) == most && vi > size {
				best, most, size = k, len(g.points), vi
			}
		}
		sp := spreads[best]
		sp.Missing = len(s.Missing)
		out = append(out, sp)
	}
	return out
}

// PageCharts returns the charts over current, or over what else varies, of as
// many quantities as a page has room for.
func (b *Book) PageCharts() []*result.Chart {
	var out []*result.Chart
	seen := map[string]bool{}
	for _, over := range []Variable{Current, Gate, Bus, Temperature} {
		for _, c := range b.Charts {
			if c.Over == string(over) && !seen[c.Key] {
				seen[c.Key] = true
				out = append(out, c)
			}
		}
	}
	return out
}

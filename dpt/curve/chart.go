package curve

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"slewbook/dpt/result"
	"slewbook/waveform/unit"
)

// linePoints is how many points a fitted line is drawn through.
const linePoints = 61

// mostLines is how many lines a chart holds; more are spread over several.
const mostLines = 6

// charts returns a series over one condition, a line for each set of the other
// conditions. Where a line has points at four or more different conditions
// they are fitted with a + bx + cx², at three with a + bx; an energy over the bus
// voltage, and with Power over the current, with a power law. With a surface, each
// point is first brought to its line's other conditions along it;
// what that changed is told. Where there are more than six lines, those of one
// chart differ in one condition only. Sets without two different conditions
// have no line.
func (s *Series) charts(over Variable, surfaces map[string]*Fit, opt BookOptions) []*result.Chart {
	points := slices.DeleteFunc(slices.Clone(s.Points), func(p Point) bool { return math.IsNaN(p.Get(over)) })
	gs := slices.DeleteFunc(groups(points, over), func(g group) bool { return distinct(clusters(g.points), over) < 2 })
	var out []*result.Chart
	for _, family := range families(gs, over) {
		c := &result.Chart{Key: s.Key, Over: string(over), YSymbol: s.Symbol, YUnit: s.Unit, XSymbol: symbols[over], XUnit: over.Unit()}
		name := share(c, family)
		for _, g := range family {
			line := s.line(g, over, surfaces[g.part], opt)
			line.Label = name(g)
			c.Lines = append(c.Lines, line)
		}
		if s.Definition != "" {
			c.Notes = append(c.Notes, s.Symbol+": "+s.Definition+".")
		}
		c.Notes = append(c.Notes, "Points stand at the measured voltage and current; bars: k = 2. Thin lines: 95 % band of the fit, with what all shots share. No line goes beyond the data.")
		out = append(out, c)
	}
	number(out)
	return out
}

// share notes what the groups of a chart have in common, and returns what names each
// by what they have not.
func share(c *result.Chart, family []group) func(group) string {
	var ats []At
	parts := map[string]bool{}
	for _, g := range family {
		ats = append(ats, g.at)
		parts[g.part] = true
	}
	differ := func(v Variable) bool { return distinct(ats, v) > 1 }
	c.Where = label(commonAt(ats), func(v Variable) bool { return !differ(v) })
	if len(parts) == 1 {
		c.Where = join(family[0].part, c.Where)
	}
	return func(g group) string {
		if len(parts) == 1 {
			g.part = ""
		}
		return join(g.part, label(g.at, differ))
	}
}

// families spreads groups over charts: all on one where there is room; else, first,
// those together that differ in their part only, then those that differ in the
// condition of which there are most values that fit.
func families(gs []group, over Variable) [][]group {
	if len(gs) == 0 {
		return nil
	}
	if len(gs) <= mostLines {
		return [][]group{gs}
	}
	ats := make([]At, len(gs))
	alike := map[string]int{} // how many parts have the same conditions
	for k, g := range gs {
		ats[k] = g.at
		alike[fmt.Sprint(g.at)]++
	}
	var vary Variable
	most := 0
	for _, v := range []Variable{Bus, Current, Temperature, Gate} {
		if n := distinct(ats, v); v != over && n > most && n <= mostLines {
			vary, most = v, n
		}
	}
	var side, rest [][]group
	index := map[string]int{}
	for _, g := range gs {
		key, to := fmt.Sprint(g.at), &side
		if n := alike[key]; n == 1 || n > mostLines {
			key, to = fmt.Sprint(g.part, g.at), &rest
			if vary != "" {
				key = fmt.Sprint(g.part, g.at.With(vary, 0))
			}
		}
		n, ok := index[key]
		if !ok {
			n = len(*to)
			index[key] = n
			*to = append(*to, nil)
		}
		(*to)[n] = append((*to)[n], g)
	}
	return append(side, rest...)
}

func number(charts []*result.Chart) {
	for k, c := range charts {
		if len(charts) > 1 {
			c.Part = k + 1
		}
	}
}

// commonAt returns the first of the places, for what they have in common.
func commonAt(ats []At) At {
	if len(ats) == 0 {
		return At{I: math.NaN(), V: math.NaN(), Tj: math.NaN(), Rg: math.NaN()}
	}
	return ats[0]
}

// degree is that of the polynomial for so many different conditions, -1 for none.
func degree(different int) int {
	switch {
	case different >= 4:
		return 2
	case different == 3:
		return 1
	}
	return -1
}

// model is what a line over so many different conditions is fitted with, nil for
// nothing: one condition more than parameters is the least that can show a misfit.
func (s *Series) model(over Variable, points []Point, power bool) Model {
	d := degree(distinct(clusters(points), over))
	switch {
	case d < 0:
		return nil
	case s.Unit == "J" && (over == Bus || over == Current && power):
		lo, hi := rangeOf(points, over)
		return Surface{Power: true, Over: []Variable{over}, Ref: At{}.With(over, (lo+hi)/2)}
	}
	return Polynomial{over, d}
}

func (s *Series) line(g group, over Variable, surface *Fit, opt BookOptions) result.Line {
	line := result.Line{Left: math.NaN()}
	moved := make([]Point, len(g.points))
	for k, p := range g.points {
		moved[k] = p
		if surface != nil {
			to := g.at.With(over, p.Get(over))
			moved[k] = surface.Move(p, to).Point
		}
		line.Dots = append(line.Dots, s.dot(p, over, moved[k].Y-p.Y))
	}
	if surface != nil {
		// A few points of a line do not show which of them is off; all of them
		// together do.
		for k := range line.Dots {
			line.Dots[k].Outlier = surface.flagged(line.Dots[k].Capture)
		}
	}
	m := s.model(over, g.points, opt.Power)
	if m == nil {
		line.Why = "no fit: fewer than three different conditions"
		return line
	}
	f, err := Least(m, moved, opt.Options)
	if err != nil {
		line.Why = "no fit: " + err.Error()
		return line
	}
	for k, r := range f.Points {
		dot := &line.Dots[k]
		dot.Fitted, dot.LeftOut, dot.Weight, dot.Outlier = r.Fitted, r.LeftOut, r.Weight, r.Outlier || dot.Outlier
	}
	lo, hi := rangeOf(g.points, over)
	for k := range linePoints {
		x := lo + (hi-lo)*float64(k)/(linePoints-1)
		e := f.estimate(At{}.With(over, x)) // within the data, since lo and hi are
		line.Fit = append(line.Fit, result.FitPoint{X: x, Y: e.Value, Half: e.Expanded, Inside: true})
	}
	line.Formula, line.Why, line.Left = f.Describe(s.Symbol, s.Unit), "intervals from "+f.Basis+", with what all shots share", f.Left.RMS
	return line
}

// flagged tells whether the fit flags a point of that name.
func (f *Fit) flagged(name string) bool {
	return slices.ContainsFunc(f.Points, func(p Residual) bool { return p.Name == name && p.Outlier })
}

func (s *Series) dot(p Point, over Variable, moved float64) result.Dot {
	return result.Dot{Capture: p.Name, X: p.Get(over), Y: p.Y, U: p.U, UX: math.NaN(), V: p.V, I: p.I, Tj: p.Tj, Rg: p.Rg, Moved: moved,
		Fitted: math.NaN(), LeftOut: math.NaN(), Weight: math.NaN(), Flags: s.Flags[p.Name]}
}

// Describe writes the formula with its parameters and their 95 % intervals:
// "E_on = a + b I; a = 40 ± 3 µJ, b = ...".
func (f *Fit) Describe(symbol, base string) string {
	var parts []string
	for k, p := range f.Model.Params() {
		name := base + p.Unit
		if p.Unit == "1" || strings.HasPrefix(p.Unit, "1/") {
			name = p.Unit
		}
		half := f.Half(k)
		parts = append(parts, fmt.Sprintf("%s = %s", p.Name, interval(f.P[k], half, name)))
	}
	return symbol + " = " + f.Model.Formula() + "; " + strings.Join(parts, ", ")
}

// interval writes a value with its half width, in one unit.
func interval(x, half float64, name string) string {
	base, rest, _ := strings.Cut(name, "/")
	if per, after, _ := strings.Cut(rest, "/"); per == "s" { // a slope has units of its own
		base, rest = base+"/s", after
	}
	if rest != "" {
		rest = "/" + strings.NewReplacer("ohm", "Ω", "A2", "A²", "V2", "V²", "K2", "K²", "ohm2", "Ω²").Replace(rest)
	}
	if base == "1" || base == "K" { // a ratio's parameters are plain numbers; a temperature's no °C
		return plainInterval(x, half) + strings.TrimPrefix(rest, "1")
	}
	factor, label := unit.Scale([]float64{x}, base)
	return plainInterval(x*factor, half*factor) + " " + label + rest
}

func plainInterval(x, half float64) string {
	return fmt.Sprintf("%s ± %s", unit.Number(x, digitsFor(x, half)), unit.Number(half, 2))
}

// digitsFor returns how many digits of x reach to the second one of its half
// width.
func digitsFor(x, half float64) int {
	if !(half > 0) || x == 0 {
		return 4
	}
	return min(max(2+int(math.Floor(math.Log10(math.Abs(x)))-math.Floor(math.Log10(half))), 1), 8)
}

// TradeOffs returns one series against another of the same shots, such as
// energy against overshoot: a line for each bus, current and temperature, each
// point one gate resistor or repeat.
func TradeOffs(y, x *Series) []*result.Chart {
	byName := map[string]Point{}
	for _, p := range x.Points {
		byName[p.Name] = p
	}
	points := slices.DeleteFunc(slices.Clone(y.Points), func(p Point) bool { _, ok := byName[p.Name]; return !ok })
	gs := slices.DeleteFunc(groups(points, Gate), func(g group) bool { return distinct(clusters(g.points), Gate) < 2 })
	var out []*result.Chart
	for _, family := range families(gs, Gate) {
		c := &result.Chart{Key: y.Key + "-" + x.Key, Over: x.Key, YSymbol: y.Symbol, YUnit: y.Unit, XSymbol: x.Symbol, XUnit: x.Unit}
		name := share(c, family)
		for _, g := range family {
			line := result.Line{Label: name(g), Left: math.NaN(), Why: "no fit: points only"}
			for _, p := range g.points {
				d := y.dot(p, Gate, 0)
				d.X, d.UX = byName[p.Name].Y, byName[p.Name].U
				line.Dots = append(line.Dots, d)
			}
			c.Lines = append(c.Lines, line)
		}
		c.Notes = append(c.Notes, "Each point is one shot with its gate resistor; bars: k = 2 both ways.")
		out = append(out, c)
	}
	number(out)
	return out
}

package result

import "slices"

// PlanFigure describes one figure of a plan, or of the losses of a converter.
type PlanFigure struct {
	Key     string
	Symbol  string // with _ before a subscript
	Unit    string // SI base unit
	Text    bool   // in the text table, which has room for the main ones only
	Help    string
	Formula string
	Inputs  []string // keys of the set-up, or of other figures
	Source  string   // of the formula, "" where the figure is given

	Difference bool // of two temperatures, which is told in kelvin and not in °C
}

// PlanPoint is one point of the test matrix.
type PlanPoint struct {
	Values []float64 // in the order of Plan.Figures [unit of the figure], NaN where an input is not known
	Breaks []string  // limits that it breaks, with the nearest point that breaks none
	Short  string    // why it cannot be reached at all, "" if it can
}

// Notes say why the point is not to be run: that it cannot be reached, else the
// limits that it breaks; empty for a point that breaks none.
func (p *PlanPoint) Notes() []string {
	if p.Short != "" {
		return []string{p.Short}
	}
	return p.Breaks
}

// Plan is a test matrix worked out, from low to high.
type Plan struct {
	Figures   []PlanFigure
	Points    []PlanPoint
	Repeats   int      // shots a point
	Answers   []string // to the inverse questions
	Unchecked []string // limits that nothing is known of
	Stops     []string // bounds that every shot is to keep: "v_peak 960.0 V (plan.v_share of device.v_max)"
}

// Value returns a figure of a point by its key; it panics for an unknown key.
func (p *Plan) Value(point int, key string) float64 {
	return p.Points[point].Values[placeOf(p.Figures, key)]
}

// Has tells whether there is a figure of that key.
func (p *Plan) Has(key string) bool {
	return slices.ContainsFunc(p.Figures, func(f PlanFigure) bool { return f.Key == key })
}

// placeOf returns the place of a figure; it panics for an unknown key.
func placeOf(figures []PlanFigure, key string) int {
	k := slices.IndexFunc(figures, func(f PlanFigure) bool { return f.Key == key })
	if k < 0 {
		panic("result: no figure " + key)
	}
	return k
}

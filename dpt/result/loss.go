package result

// LossPoint is the losses of a converter at one switching frequency.
type LossPoint struct {
	Fsw     float64          // [Hz]
	Values  []float64        // in the order of Losses.Figures [unit of the figure], NaN where an input is not known
	Budgets [][]Contribution // what the uncertainty of each is made of, in the same order
	Missing []string         // parts of the losses that are not in the sum, and why
	Beyond  []string         // where data were left: asked for, and marked
	Past    float64          // share of the switching losses that lies beyond the grids [1]
	Breaks  []string         // limits that it breaks
	Notes   []string         // on the uncertainty of this point
	Err     error            // why there is no honest number
}

// Losses are those of a converter over its switching frequencies.
type Losses struct {
	Kind    string
	Figures []PlanFigure
	Parts   []string // keys of the figures that add up to p_total
	Points  []LossPoint
	Answers []string // to the inverse questions
	Data    []string // what the numbers rest on
	NotInU  []string // inputs without a stated uncertainty
	LeftOut []string // what a double-pulse test does not tell
}

// Value returns a figure of a point by its key; it panics for an unknown key.
func (l *Losses) Value(point int, key string) float64 {
	return l.Points[point].Values[placeOf(l.Figures, key)]
}

// Budget returns what the uncertainty of a figure is made of.
func (l *Losses) Budget(point int, key string) []Contribution {
	return l.Points[point].Budgets[placeOf(l.Figures, key)]
}

// Unknown tells whether no point has the figure of that place.
func (l *Losses) Unknown(figure int) bool {
	for _, p := range l.Points {
		if x := p.Values[figure]; x-x == 0 {
			return false
		}
	}
	return true
}

// Symbol returns that of a figure.
func (l *Losses) Symbol(key string) string { return l.Figures[placeOf(l.Figures, key)].Symbol }

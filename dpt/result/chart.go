package result

// Chart is a family of lines over one condition, as a figure, a table and a
// page show it. SI base units throughout.
type Chart struct {
	Key     string // of the quantity: "e_on"; "e_off-v_peak" for a trade-off
	Over    string // "i", "v", "tj", "rg", or the key of the other quantity
	YSymbol string
	YUnit   string
	XSymbol string
	XUnit   string
	Where   string // the conditions that all lines have in common
	Part    int    // number of the chart where many lines are spread over several, from 1; else 0
	Lines   []Line
	Notes   []string // what people must know who read it
}

// Line is the points of one set of other conditions, with their fit.
type Line struct {
	Label   string
	Dots    []Dot
	Fit     []FitPoint // nil where the points do not carry a fit
	Formula string     // with its parameters and their 95 % intervals
	Why     string     // what the fit rests on, or why there is none
	Left    float64    // relative RMS of the check by leaving out points; NaN
}

// Dot is one measured value, at the condition that was measured.
type Dot struct {
	Capture string
	X, Y    float64
	U       float64 // standard uncertainty of Y, NaN if not known
	UX      float64 // of X, in trade-offs; NaN
	V, I    float64 // bus voltage and load current as measured [V], [A]
	Tj, Rg  float64 // [K], [ohm], NaN if not known
	Moved   float64 // what was added to Y for the fit, to bring it to the conditions of its line
	Fitted  float64 // NaN without a fit
	LeftOut float64 // what the others foretell; NaN
	Weight  float64 // robust weight, 1 = full; NaN without a fit
	Outlier bool    // flagged, kept
	Flags   string  // codes of its warnings
}

// FitPoint is a point of a fitted line with the half width of its 95 % band.
type FitPoint struct {
	X, Y, Half float64
	Inside     bool // within the data
}

// Spread is a quantity over the repeats and parts of one set of conditions.
type Spread struct {
	Key, Symbol, Unit string
	Where             string  // the conditions
	N                 int     // shots with a value
	Missing           int     // shots without
	Mean, Min, Max, S float64 // S: standard deviation of the shots, NaN below two
	U                 float64 // median standard uncertainty of a shot, NaN if not known

	Outliers []string // captures that stand out from the others; counted in all the same
}

// PageItem is one of the points that a reader must know to repeat a test.
type PageItem struct {
	Name    string
	Known   []string // "loop inductance 12 nH"
	Missing []string // "lot"
}

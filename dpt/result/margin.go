package result

// Margin is how far the worst of a run's shots stays from a rating. It is a figure and
// no verdict.
type Margin struct {
	Rating  string  // what is rated, in words
	Setup   string  // key of the set-up that gives it
	Key     string  // of the quantity that is held against it
	Unit    string  // SI base unit of all that follows
	Limit   float64 // the rating
	Lower   bool    // whether it is a lower limit
	Value   float64 // the worst, NaN if no shot has it
	U       float64 // its standard uncertainty
	Capture string  // the shot that has it
	Margin  float64 // from the worst to the rating, negative beyond it
	Read    int     // shots in which the quantity was read
	Shots   int     // shots of the run
}

// Relative returns the margin in parts of the rating.
func (m Margin) Relative() float64 {
	if m.Limit < 0 {
		return -m.Margin / m.Limit
	}
	return m.Margin / m.Limit
}

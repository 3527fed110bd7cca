package result

import "math"

// Matrix is what became of the points of a campaign: planned, measured, refused,
// missing.
type Matrix struct {
	Planned bool         // a list told what was planned; else only what was found is known
	Cells   []MatrixCell // those of like other conditions together
	Outside int          // shots without a planned voltage and current
}

// MatrixCell is one point: a planned bus voltage and load current under other
// conditions.
type MatrixCell struct {
	Where        []Condition // the other conditions
	PlanV, PlanI float64     // [V], [A]
	Planned      int
	Measured     int
	Refused      []string // captures
	Missing      []string // captures of the list that were not found
	V, I         Mean     // of what was measured [V], [A]
}

// Mean gathers a mean without keeping what it is of.
type Mean struct {
	N   int
	sum float64
}

// Add counts a value in.
func (m *Mean) Add(x float64) { m.N, m.sum = m.N+1, m.sum+x }

// Value is the mean, NaN of nothing.
func (m Mean) Value() float64 {
	if m.N == 0 {
		return math.NaN()
	}
	return m.sum / float64(m.N)
}

package limits

import (
	"math"

	"slewbook/dpt/result"
)

// Rating is a limit of the device or of what surrounds it, Max or Min of it, that
// the worst of a run is held against.
type Rating struct {
	Limit
	Name  string // in words
	Setup string // key of the set-up that gives it
}

// Margins takes up the shots of a run one by one and keeps the worst of each rated
// quantity.
type Margins struct {
	worst []result.Margin
	shots int
}

// NewMargins starts with no shot.
func NewMargins(ratings []Rating) *Margins {
	m := &Margins{}
	for _, r := range ratings {
		c, _ := result.FindColumn(r.Key)
		row := result.Margin{Rating: r.Name, Setup: r.Setup, Key: r.Key, Unit: c.Unit, Limit: r.Max, Value: math.NaN(), U: math.NaN(), Margin: math.NaN()}
		if math.IsNaN(r.Max) {
			row.Limit, row.Lower = r.Min, true
		}
		m.worst = append(m.worst, row)
	}
	return m
}

// Add takes up a shot. One that was refused, or in which a quantity could not be
// read, counts as a shot in which it was not read.
func (m *Margins) Add(s *result.Shot) {
	m.shots++
	for k := range m.worst {
		w := &m.worst[k]
		q := s.Quantity(w.Key)
		if s.Err != nil || q == nil || math.IsNaN(q.Value) {
			continue
		}
		w.Read++
		left := w.Limit - q.Value
		if w.Lower {
			left = -left
		}
		if !(left >= w.Margin) {
			w.Value, w.U, w.Capture, w.Margin = q.Value, q.U, s.Capture, left
		}
	}
}

// Table returns a row for each rating. Those of channels that no shot has are left
// out: they are not of this bench.
func (m *Margins) Table() []result.Margin {
	var rows []result.Margin
	for _, w := range m.worst {
		if c, _ := result.FindColumn(w.Key); c.Given && w.Read == 0 {
			continue
		}
		w.Shots = m.shots
		rows = append(rows, w)
	}
	return rows
}

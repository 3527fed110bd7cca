package campaign

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"slewbook/dpt/result"
)

// axes are the conditions that make up the place of a shot in the matrix.
var axes = []string{"device", "position", "freewheel", "tj", "tc", "rg_on", "rg_off", "l_load", "c_bus"}

// Matrix counts the shots of a campaign by their planned conditions. Memory grows
// with the number of points, not of shots.
type Matrix struct {
	planned bool // there is a list
	cells   map[string]*result.MatrixCell
	outside int // shots without a planned voltage and current
}

// NewMatrix returns the matrix of a plan with no shot yet: all of its list is
// missing.
func NewMatrix(p Plan, base []result.Condition) (*Matrix, error) {
	m := &Matrix{cells: map[string]*result.MatrixCell{}}
	if p.List == nil {
		return m, nil
	}
	m.planned = true
	for _, e := range p.List.Entries {
		conditions, _, err := p.Conditions(base, e.Capture)
		if err != nil {
			return nil, err
		}
		if c := m.cell(conditions); c != nil {
			c.Planned++
			c.Missing = append(c.Missing, e.Capture)
		}
	}
	return m, nil
}

// Add counts a shot.
func (m *Matrix) Add(s *result.Shot) {
	c := m.cell(s.Conditions)
	if c == nil {
		m.outside++
		return
	}
	file, _, _ := strings.Cut(s.Capture, "#")
	for _, name := range []string{s.Capture, file} {
		if k := slices.Index(c.Missing, name); k >= 0 {
			c.Missing = slices.Delete(c.Missing, k, k+1)
			break
		}
	}
	if s.Err != nil {
		c.Refused = append(c.Refused, s.Capture)
		return
	}
	c.Measured++
	for _, d := range Deviations(s) {
		to := &c.V
		if d.Key == "i_load" {
			to = &c.I
		}
		if !math.IsNaN(d.Value) {
			to.Add(d.Value)
		}
	}
}

// cell returns the cell of a record, nil where it has no planned voltage and
// current.
func (m *Matrix) cell(conditions []result.Condition) *result.MatrixCell {
	v, i := result.FindCondition(conditions, "v_bus"), result.FindCondition(conditions, "i_load")
	if v == nil || i == nil {
		return nil
	}
	var where []result.Condition
	for _, key := range axes {
		if c := result.FindCondition(conditions, key); c != nil {
			where = append(where, *c)
		}
	}
	// The values decide, not how they are written: 25 °C is 298.15 K.
	var key strings.Builder
	for _, c := range append([]result.Condition{*v, *i}, where...) {
		if math.IsNaN(c.Value) {
			fmt.Fprintf(&key, "%s=%s;", c.Key, c.Text)
		} else {
			fmt.Fprintf(&key, "%s=%.6g;", c.Key, c.Value)
		}
	}
	c, ok := m.cells[key.String()]
	if !ok {
		c = &result.MatrixCell{Where: where, PlanV: v.Value, PlanI: i.Value}
		m.cells[key.String()] = c
	}
	return c
}

// Table returns the cells in order, those of equal other conditions together.
func (m *Matrix) Table() result.Matrix {
	out := result.Matrix{Planned: m.planned, Outside: m.outside}
	for _, c := range m.cells {
		out.Cells = append(out.Cells, *c)
	}
	slices.SortFunc(out.Cells, func(a, b result.MatrixCell) int {
		return cmp.Or(compare(a.Where, b.Where), cmp.Compare(a.PlanV, b.PlanV), cmp.Compare(a.PlanI, b.PlanI))
	})
	return out
}

// compare orders records by their values in the order of axes.
func compare(a, b []result.Condition) int {
	return slices.CompareFunc(a, b, func(x, y result.Condition) int {
		return cmp.Or(cmp.Compare(slices.Index(axes, x.Key), slices.Index(axes, y.Key)), cmp.Compare(x.Value, y.Value), cmp.Compare(x.Text, y.Text))
	})
}

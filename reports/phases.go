package reports

import "slewbook/dpt/result"

// phases writes the phases of edges that were switched in stages, if there are any.
func (t *textTable) phases() {
	rows := [][]string{{"capture", "edge", "phase", "takes", "dv/dt", "di/dt", "E"}}
	for _, s := range t.shots {
		for _, p := range s.Phases {
			d := p.Over.Duration()
			row := []string{s.Capture, string(p.Edge), p.Label, Num(d, d/1000, "s")}
			for _, key := range []string{"dvdt", "didt", "e"} {
				row = append(row, phaseCell(p, key))
			}
			rows = append(rows, row)
		}
	}
	if len(rows) == 1 {
		return
	}
	t.printf("Edges switched in stages: each phase, slopes as changes over it\n")
	t.rows(Table{Rows: rows, Keys: 3, Words: AllWords})
	t.printf("\n")
}

// phaseCell is a quantity of a phase to the digits that its uncertainty carries.
func phaseCell(p result.Phase, key string) string {
	for _, m := range p.Quantities {
		if m.Key == key {
			return Num(m.Value, m.U, m.Unit)
		}
	}
	return "-"
}

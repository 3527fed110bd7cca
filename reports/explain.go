package reports

import (
	"fmt"
	"math"
	"strings"

	"slewbook/dpt/result"
)

// explain says under the tables what the numbers mean: the energy windows, the
// base of the levels, and how many digits were printed and why.
func (t *textTable) explain() {
	if windows := t.windows(); windows != "" {
		t.para("", windows+" Energies are those at the sense points.")
	}
	t.para("", "Levels of v are per cent of V_bus of the same edge, levels of i per cent of the load current at the edge "+
		"(I_off, I_on). Rise and fall times and slopes are between 10 and 90 %.")
	known, unknown := t.uncertainties()
	if unknown {
		t.para("", "The standard uncertainty u is not computed yet for "+ifElse(known, "some numbers; they are", "these numbers; they are")+
			fmt.Sprintf(" shown with %d digits, which says nothing about their accuracy.", significant))
	}
	if known {
		t.para("", "Numbers with a known u end at the second digit of the expanded uncertainty 2 u.")
	}
	t.para("", `"-" = not measured. The CSV and JSON output hold all quantities and windows, with the time of each.`)
}

// windows names the energy windows in use with their rules.
func (t *textTable) windows() string {
	var items []string
	seen := map[string]bool{}
	for _, key := range []string{"e_off", "e_on"} {
		for _, s := range t.shots {
			m := s.Quantity(key)
			if m == nil || m.Definition == "" || seen[key+m.Definition] {
				continue
			}
			seen[key+m.Definition] = true
			c, _ := result.FindColumn(key)
			txt := c.Symbol + " in " + m.Definition
			if w, ok := result.FindWindow(m.Definition, c.Edge); ok {
				txt += fmt.Sprintf(" (%s to %s)", w.Start, w.End)
			}
			items = append(items, txt)
		}
	}
	if len(items) == 0 {
		return ""
	}
	return "Energy windows: " + strings.Join(items, ", ") + "."
}

// uncertainties tells whether numbers in the tables have a known standard
// uncertainty, and whether some have none.
func (t *textTable) uncertainties() (known, unknown bool) {
	for _, s := range t.shots {
		for _, m := range s.Quantities {
			if !inTable(m.Key) || math.IsNaN(m.Value) {
				continue
			}
			known = known || m.U > 0
			unknown = unknown || !(m.U > 0)
		}
	}
	return known, unknown
}

func ifElse(cond bool, yes, no string) string {
	if cond {
		return yes
	}
	return no
}

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
		t.para("", windows+" Energies are those at the sense points; \"per ns\" is how an energy changes with 1 ns more lag of the current.")
	}
	t.para("", "Levels of v are per cent of V_bus of the same edge, levels of i per cent of the load current at the edge "+
		"(I_off, I_on). Rise and fall times and slopes are between 10 and 90 %"+t.otherwise()+".")
	some, none := t.uncertainties()
	if some {
		t.para("", plusMinus(t.opt.ASCII)+" is the expanded uncertainty U = 2 u (k = 2), to two digits; the number ends where U does.")
	}
	if none {
		t.para("", ifElse(some, "Numbers without it have no", "The numbers have no")+" computed uncertainty yet; they are shown with "+
			fmt.Sprintf("%d digits, which says nothing about their accuracy.", significant))
	}
	t.assumed()
	t.simulated()
	t.para("", `"-" = not measured. The CSV and JSON output hold all quantities, windows and warnings, with the time of each.`)
}

// simulated tells how the trials compare, where there are some.
func (t *textTable) simulated() {
	all, odd := 0, []string{}
	for _, c := range result.Columns {
		agree := true
		some := false
		for _, s := range t.shots {
			if m := s.Quantity(c.Key); c.Text && m != nil && m.MonteCarlo != nil {
				some, agree = true, agree && m.MonteCarlo.Agrees
			}
		}
		if some {
			all++
		}
		if !agree {
			odd = append(odd, c.Symbol)
		}
	}
	switch {
	case all == 0:
	case len(odd) == 0:
		t.para("", fmt.Sprintf("Monte Carlo trials (JCGM 101) validate U of all %d quantities above that are read from an edge.", all))
	default:
		t.para("", fmt.Sprintf("Monte Carlo trials (JCGM 101) validate U of %d of %d quantities above, not in all shots that of %s: their intervals are in the JSON output.",
			all-len(odd), all, strings.Join(odd, ", ")))
	}
}

// otherwise names the quantities that were read under a definition other than
// the default.
func (t *textTable) otherwise() string {
	var items []string
	for _, c := range result.Columns {
		for _, s := range t.shots {
			m := s.Quantity(c.Key)
			if m == nil || !c.Text {
				continue
			}
			name, _, _ := strings.Cut(m.Definition, ": ")
			if d, err := result.FindDefinition(c.Key, name); err == nil && d.Name != m.Definition {
				items = append(items, c.Symbol+" as "+name)
				break
			}
		}
	}
	if len(items) == 0 {
		return ""
	}
	return ", but for " + strings.Join(items, ", ")
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

// uncertainties tells whether some numbers in the tables have a known standard
// uncertainty, and whether some have none.
func (t *textTable) uncertainties() (some, none bool) {
	for _, s := range t.shots {
		for _, m := range s.Quantities {
			if !inTable(m.Key) || math.IsNaN(m.Value) {
				continue
			}
			some = some || known(m.U)
			none = none || !known(m.U)
		}
	}
	return some, none
}

func ifElse(cond bool, yes, no string) string {
	if cond {
		return yes
	}
	return no
}

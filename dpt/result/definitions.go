package result

import (
	"fmt"
	"strings"
)

// Definition is a named way to read the quantity of a column. A reading under it
// has the key "column.name".
type Definition struct {
	Key     string // of the column
	Name    string
	Text    string // from where to where, at which levels
	Formula string // "" where the text says it all
	Source  string // who uses it
	Sure    string // "text seen", "from memory", "common practice, no source" or "derived"
}

const (
	seen     = "text seen"
	memory   = "from memory"
	practice = "common practice, no source"
)

// slopeParts are the stretches that average slopes are taken over.
var slopeParts = []string{"10-90", "20-80", "40-60"}

// Definitions lists the named definitions in the order of the columns, the
// default of a MOSFET first. Columns that are not among them are read in one way
// only, which their help tells.
func Definitions() []Definition {
	var all []Definition
	all = append(all,
		Definition{"td_off", "g90-v10", "gate 90 % to v 10 %", "", "JESD24, JESD77, t_d(off)v; IEC 60747-8 fig. 3 (from memory); default of a MOSFET", seen},
		Definition{"td_off", "g90-i90", "gate 90 % to i 90 %", "", "IGBT sheets of two makers; default of an IGBT", seen})
	all = append(all,
		Definition{"t_off", "g90-v90", "gate 90 % to v 90 %", "t_d(off) + t_rv", "JESD24, JESD77, t_off(v); IEC 60747-8 (from memory); default of a MOSFET", seen},
		Definition{"t_off", "g90-i10", "gate 90 % to i 10 %", "t_d(off) + t_fi", "IEC 60747-9; default of an IGBT", memory})
	all = append(all, times("t_rise_v", "v", false)...)
	all = append(all, times("t_fall_i", "i", true)...)
	all = append(all, slopes("dvdt_off", "v", "v_bus")...)
	all = append(all, slopes("didt_off", "i", "i_load")...)
	all = append(all, windows("e_off", TurnOff)...)
	all = append(all,
		Definition{"td_on", "g10-v90", "gate 10 % to v 90 %", "", "JESD24, JESD77, t_d(on)v; IEC 60747-8 fig. 3 (from memory); default of a MOSFET", seen},
		Definition{"td_on", "g10-i10", "gate 10 % to i 10 %", "", "IGBT sheets of two makers; default of an IGBT", seen})
	all = append(all,
		Definition{"t_on", "g10-v10", "gate 10 % to v 10 %", "t_d(on) + t_fv", "JESD24, JESD77, t_on(v); IEC 60747-8 (from memory); default of a MOSFET", seen},
		Definition{"t_on", "g10-i90", "gate 10 % to i 90 %", "t_d(on) + t_ri", "IEC 60747-9; default of an IGBT", memory})
	all = append(all, times("t_rise_i", "i", false)...)
	all = append(all, times("t_fall_v", "v", true)...)
	all = append(all, Definition{"t_fall_v", "after-i90", "v 90 % or i 90 %, whichever is later, to v 10 %", "", "the fall without the dip of L·di/dt", practice})
	all = append(all, slopes("dvdt_on", "v", "v_bus")...)
	all = append(all, Definition{"dvdt_on", "after-i90", "v 90 % or i 90 %, whichever is later, to v 10 %", "(v(start) - 0.1·v_bus)/t", "the fall without the dip of L·di/dt", practice})
	all = append(all, slopes("didt_on", "i", "i_load")...)
	all = append(all, windows("e_on", TurnOn)...)
	for _, key := range []string{"t_rr", "q_rr", "s_rr", "e_rr"} {
		all = append(all, recoveries(key)...)
		if key == "q_rr" {
			all = append(all, Definition{"q_rr", "triangle", "a triangle of the peak and of t_rr.line-75-50", "½·t_rr·I_RRM", "sheets of several makers", seen})
		}
	}
	for _, key := range []string{"t_dead_off", "t_dead_on"} {
		all = append(all,
			Definition{key, "g50-g50", "gate that goes off 50 % to gate that comes on 50 %", "", "default; the driver's command, whatever the thresholds", practice},
			Definition{key, "g10-g10", "gate that goes off 10 % to gate that comes on 10 %", "", "time with both gates below 10 % of their swings", practice})
	}
	return all
}

func times(key, signal string, falls bool) []Definition {
	a, b := 10, 90
	if falls {
		a, b = 90, 10
	}
	c, d := 20, 80
	if falls {
		c, d = 80, 20
	}
	return []Definition{
		{key, "10-90", fmt.Sprintf("%s %d %% to %s %d %%", signal, a, signal, b), "", "default; IEEE 181, JESD24", memory},
		{key, "20-80", fmt.Sprintf("%s %d %% to %s %d %%", signal, c, signal, d), "", "where the ends of the edge are not clean", practice},
	}
}

func slopes(key, signal, base string) []Definition {
	var ds []Definition
	for k, part := range slopeParts {
		source, sure := "", practice
		if k == 0 {
			source = "default; conditions of the loss rows of a module sheet (its levels from memory)"
		}
		lo, hi, _ := strings.Cut(part, "-")
		ds = append(ds, Definition{key, part, fmt.Sprintf("average of %s between %s and %s %%", signal, lo, hi),
			fmt.Sprintf("(%s - %s) %%·%s/t", hi, lo, base), source, sure})
	}
	ds = append(ds,
		Definition{key, "max", "steepest local fit", "line through a fifth of the samples from 10 to 90 %, at least 3", "the column " + key + "_max", practice},
		Definition{key, "swing-over-10-90", "full swing over the 10-90 % time: 1.25 times the average there", base + "/t", "2 kV in 37 ns called 55 V/ns, where the 10-90 average is 43 V/ns", practice})
	if signal == "v" {
		ds = append(ds, Definition{key, "span", "average over the voltages that the set-up gives (definitions.span_from, span_to)", "(span_to - span_from)/t", "stated by the user", practice})
	}
	return ds
}

func windows(key string, edge Edge) []Definition {
	var ds []Definition
	for _, w := range Windows {
		if w.Edge == edge {
			ds = append(ds, windowDefinition(key, w))
		}
	}
	for _, v := range variants {
		if w, err := ParseWindow(v.name, edge); err == nil {
			ds = append(ds, windowDefinition(key, w))
		}
	}
	base := ds[0].Name
	for _, r := range []EndRule{DwellEnd, LastEnd, SettledEnd} {
		w, _ := FindWindow(base+"."+string(r), edge)
		w.Source = "the default with another end; any window takes the suffix (common practice, no source)"
		ds = append(ds, windowDefinition(key, w))
	}
	return ds
}

func windowDefinition(key string, w Window) Definition {
	d := Definition{Key: key, Name: w.Name, Text: w.String(), Formula: "∫ v·i dt", Source: w.Source, Sure: practice}
	for _, sure := range []string{seen, memory} {
		if strings.Contains(w.Source, sure) {
			d.Sure = sure
		}
	}
	return d
}

func recoveries(key string) []Definition {
	formula := map[string]string{"t_rr": "end - start", "q_rr": "∫ i_rr dt", "s_rr": "t_b/t_a", "e_rr": "∫ v_other·i_rr dt"}[key]
	rules := []Definition{
		{Name: "zero", Text: "from zero to the first return to zero", Source: "JEDEC dictionary, t_rr, rule 1", Sure: seen},
		{Name: "line-90-25", Text: "from zero to where the line through 90 and 25 % of the peak meets zero", Source: "IEC 60747-2", Sure: memory},
		{Name: "line-75-50", Text: "from zero to where the line through 75 and 50 % of the peak meets zero", Source: "sheets of several makers; JEDEC dictionary, rule 2", Sure: seen},
		{Name: "i25", Text: "from zero to the fall to 25 % of the peak", Source: "sheets of small diodes; JEDEC dictionary, rule 3", Sure: seen},
		{Name: "i10", Text: "from zero to the fall to 10 % of the peak", Sure: practice},
		{Name: "i2", Text: "from zero to the fall to 2 % of the peak", Source: "a module maker's IGBT handbook, for the energy", Sure: seen},
	}
	for k := range rules {
		rules[k].Key, rules[k].Formula = key, formula
	}
	return rules
}

// FindDefinition returns the definition of that name of a column. Energy windows
// are found by the rules of ParseWindow as well.
func FindDefinition(key, name string) (Definition, error) {
	var names []string
	for _, d := range Definitions() {
		if d.Key == key {
			names = append(names, d.Name)
			if d.Name == name {
				return d, nil
			}
		}
	}
	if len(names) == 0 {
		if _, ok := FindColumn(key); !ok {
			return Definition{}, fmt.Errorf("no quantity has the key %q; slewbook definitions lists them", key)
		}
		return Definition{}, fmt.Errorf("%s is read in one way only", key)
	}
	if key == "e_on" || key == "e_off" {
		c, _ := FindColumn(key)
		if w, ok := FindWindow(name, c.Edge); ok {
			return windowDefinition(key, w), nil
		}
	}
	return Definition{}, fmt.Errorf("%s has no definition %q; there are %s", key, name, strings.Join(names, ", "))
}

// Default returns the name of the definition that the plain key of a column has,
// "" where it is read in one way only.
func Default(key string, igbt bool) string {
	switch {
	case key == "e_rr":
		return "i2"
	case igbt && key == "td_off":
		return "g90-i90"
	case igbt && key == "td_on":
		return "g10-i10"
	case igbt && key == "t_off":
		return "g90-i10"
	case igbt && key == "t_on":
		return "g10-i90"
	}
	for _, d := range Definitions() {
		if d.Key == key {
			return d.Name
		}
	}
	return ""
}

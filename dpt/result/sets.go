package result

import (
	"fmt"
	"strings"
)

// Choice selects the definition Name for the column Key.
type Choice struct{ Key, Name string }

// Set is a named bundle of definitions that belong together.
type Set struct {
	Name    string
	Text    string
	Choices []Choice
	Source  string
	Sure    string
}

// Sets lists the named sets. What a set does not name stays at its default.
// The percentages that are given for IEC papers are those that the trade attributes
// to them; the papers' own text was not seen.
var Sets = []Set{
	{"mosfet", "what slewbook reads of a MOSFET unless it is asked otherwise",
		[]Choice{{"td_off", "g90-v10"}, {"td_on", "g10-v90"}, {"t_off", "g90-v90"}, {"t_on", "g10-v10"}, {"e_off", "v10-i2"}, {"e_on", "i10-v2"}, {"t_rr", "zero"}, {"q_rr", "zero"}}, "the contract of this program", seen},
	{"mosfet-iec", "MOSFET form: times of v, energies from 10 to 10 %",
		[]Choice{{"td_off", "g90-v10"}, {"td_on", "g10-v90"}, {"t_off", "g90-v90"}, {"t_on", "g10-v10"}, {"e_off", "v10-i10"}, {"e_on", "i10-v10"}, {"t_rr", "line-90-25"}, {"q_rr", "line-90-25"}}, "IEC 60747-8 fig. 2 and 3, IEC 60747-2", memory},
	{"mosfet-jedec", "voltage-based times; recovery by the first return to zero, capacitive charge included",
		[]Choice{{"td_off", "g90-v10"}, {"td_on", "g10-v90"}, {"t_off", "g90-v90"}, {"t_on", "g10-v10"}, {"t_rr", "zero"}, {"q_rr", "zero"}}, "JESD24, JESD77-B, JEDEC dictionary", seen},
	{"igbt", "IGBT form: times of i, energies in the default windows",
		[]Choice{{"td_off", "g90-i90"}, {"td_on", "g10-i10"}, {"t_off", "g90-i10"}, {"t_on", "g10-i90"}, {"e_off", "v10-i2"}, {"e_on", "i10-v2"}, {"e_rr", "i2"}}, "a module maker's IGBT handbook; IGBT sheets of two makers for the times", seen},
	{"igbt-iec", "IGBT form: times of i, energies from the gate on",
		[]Choice{{"td_off", "g90-i90"}, {"td_on", "g10-i10"}, {"t_off", "g90-i10"}, {"t_on", "g10-i90"}, {"e_off", "g90-i2"}, {"e_on", "g10-v2"}, {"t_rr", "line-90-25"}, {"q_rr", "line-90-25"}}, "IEC 60747-9 as used for discrete IGBTs, IEC 60747-2", memory},
	{"igbt-5-5", "discrete IGBT sheets: 5 % limits, recovery by the line through 75 and 50 %",
		[]Choice{{"td_off", "g90-i90"}, {"td_on", "g10-i10"}, {"t_off", "g90-i10"}, {"t_on", "g10-i90"}, {"e_off", "v5-i5"}, {"e_on", "i10-v5"}, {"t_rr", "line-75-50"}, {"q_rr", "triangle"}}, "sheets of a maker of discrete IGBTs", seen},
	{"igbt-fixed-5us", "discrete IGBT sheet: turn-off over a fixed 5 µs",
		[]Choice{{"td_off", "g90-i90"}, {"td_on", "g10-i10"}, {"t_off", "g90-i10"}, {"t_on", "g10-i90"}, {"e_off", "v5-5us"}, {"e_on", "i10-v5"}}, "a sheet of a discrete IGBT", seen},
	{"igbt-long-tail", "press-pack sheet: from the gate to 5 µs after the last mark",
		[]Choice{{"td_off", "g90-i90"}, {"td_on", "g10-i10"}, {"t_off", "g90-i10"}, {"t_on", "g10-i90"}, {"e_off", "g90-i10+5us"}, {"e_on", "g10-v10+5us"}}, "a sheet of a press-pack IGBT", seen},
	{"igbt-fixed-2us", "discrete IGBT sheet: turn-off over a fixed 2 µs",
		[]Choice{{"td_off", "g90-i90"}, {"td_on", "g10-i10"}, {"t_off", "g90-i10"}, {"t_on", "g10-i90"}, {"e_off", "v10-2us"}}, "a sheet of a discrete IGBT; the start from memory", memory},
	{"gto-fixed", "slow devices: 20 µs at turn-on, 40 µs at turn-off",
		[]Choice{{"e_off", "i90-40us"}, {"e_on", "g10-20us"}}, "a GCT and GTO sheet (its gate mark is the gate current's)", seen},
	{"slope-20-80", "all slopes averaged from 20 to 80 %",
		[]Choice{{"dvdt_off", "20-80"}, {"didt_off", "20-80"}, {"dvdt_on", "20-80"}, {"didt_on", "20-80"}}, "", practice},
	{"slope-swing", "all slopes as the full swing over the 10-90 % time",
		[]Choice{{"dvdt_off", "swing-over-10-90"}, {"didt_off", "swing-over-10-90"}, {"dvdt_on", "swing-over-10-90"}, {"didt_on", "swing-over-10-90"}}, "", practice},
}

// FindSet returns the set of that name.
func FindSet(name string) (Set, error) {
	var names []string
	for _, s := range Sets {
		if s.Name == name {
			return s, nil
		}
		names = append(names, s.Name)
	}
	return Set{}, fmt.Errorf("no set of definitions is named %q; there are %s", name, strings.Join(names, ", "))
}

package reports

import (
	"fmt"
	"math"
	"strings"

	"slewbook/dpt/result"
	"slewbook/waveform"
)

// notes are the paragraphs of the box.
func notes(s *result.Shot, style Style) []string {
	conditions := "Conditions: " + strings.Join(each(s.Conditions, conditionNote), "; ")
	if len(s.Conditions) == 0 {
		conditions = "Conditions: none given"
	}
	out := []string{conditions}
	if len(s.Corrections) > 0 {
		out = append(out, "Corrections: "+strings.Join(each(s.Corrections, func(c result.Correction) string { return inWords(s, correctionNote(c)) }), "; "))
	}
	out = append(out, absences(s)...)
	if all := shownWarnings(s); len(all) > 0 {
		out = append(out, "Warnings: "+strings.ReplaceAll(codes(all), " ", ", "))
	}
	if style.Brief {
		return append(out, "Shaded: energy window. Dashes: base of the levels; dots: 10 and 90 % of it. Dash-dotted: v at half the bus.")
	}
	out = append(out, "Lines: solid = corrected trace, thin grey = raw where it differs; long dashes = base of the levels, dotted = 10 and 90 % of it; dash-dotted = event (v at half the bus); shaded = energy window; rings = what was read off")
	return append(out, literal(strings.Join(provenance(s), "; ")))
}

// absences tell what the figure does not show and why.
func absences(s *result.Shot) []string {
	var out, missing []string
	for _, r := range mainRoles() {
		if s.Traces[r] == nil {
			missing = append(missing, string(r))
		}
	}
	if len(missing) > 0 {
		out = append(out, "Not shown, since the capture has no such channel: "+literal(strings.Join(missing, ", ")))
	}
	for _, edge := range []result.Edge{result.TurnOff, result.TurnOn} {
		if firstEdge(s, edge) == nil {
			out = append(out, edgeName(edge)+": none was measured in this capture")
		}
	}
	if n := len(s.Edges) - len(shownEdges(s)); n > 0 {
		out = append(out, fmt.Sprintf("%d more measured edge(s) are not shown", n))
	}
	return out
}

// provenance tells where the numbers are from.
func provenance(s *result.Shot) []string {
	short := func(hash string) string { return hash[:min(12, len(hash))] }
	return []string{
		printable("slewbook "+s.Version, false), "settings " + short(s.Settings),
		printable("files "+strings.Join(s.Files, ", "), false), "sha256 " + strings.Join(each(s.SHA256, short), ", "),
	}
}

// ConditionText writes a condition with its key: "tj 25 °C".
func ConditionText(c result.Condition) string {
	if c.Text != "" {
		return printable(c.Key+" "+c.Text, false) // as written: no digit more, none less
	}
	return printable(c.Key+" ", false) + minus(plainValue(c.Value, c.Unit))
}

// plainValue writes a given value without digits that nobody gave: "800 V",
// "4.7 Ω", "25 °C".
func plainValue(x float64, base string) string {
	size, label := scaleFor([]float64{x}, base)
	if base == "K" {
		x, size, label = x-celsius, 1, "°C"
	}
	return strings.TrimSpace(trimmed(x/size, 3) + " " + unitLabel(label, false))
}

// ConditionSymbol returns the symbol of the trade of a condition, "" where it has none.
func ConditionSymbol(key string) string {
	return map[string]string{
		"rg_on": "R_G,on", "rg_off": "R_G,off", "rg_internal": "R_G,int", "tj": "T_j", "tc": "T_c",
		"v_bus": "V_bus", "i_load": "I_load", "l_loop": "L_loop", "l_load": "L_load", "c_bus": "C_bus",
	}[key]
}

// conditionNote writes a condition with the symbol of the trade, its value as
// it was given.
func conditionNote(c result.Condition) string {
	symbol := ConditionSymbol(c.Key)
	if symbol == "" || c.Text == "" {
		return literal(ConditionText(c))
	}
	value := literal(printable(c.Text, false))
	for spelled, sign := range map[string]string{"ohm": "Ω", "uH": "µH", "uF": "µF"} {
		if head, found := strings.CutSuffix(value, " "+spelled); found {
			value = head + " " + sign
		}
	}
	if c.Unit == "K" && strings.HasSuffix(value, " K") {
		value = trimmed(c.Value-celsius, 2) + " °C"
	}
	return strings.ReplaceAll(symbol+" = "+minus(value), " ", "\u00a0")
}

func correctionNote(c result.Correction) string {
	show := func(x float64, unit string) string { return minus(valueText(x, math.NaN(), unit, false)) }
	if c.Kind == "sum" {
		return literal(c.Text)
	}
	txt := fmt.Sprintf("%s %s %s", literal(string(c.Channel)), c.Kind, show(c.Value, c.Unit))
	if !math.IsNaN(c.EOff) && !math.IsNaN(c.EOn) {
		txt += fmt.Sprintf(" (changes E_off by %s, E_on by %s)", show(c.EOff, "J"), show(c.EOn, "J"))
	}
	return txt
}

// shownWarnings are those of the shot and of the main quantities, which a figure
// is about; the others stand in the tables.
func shownWarnings(s *result.Shot) []waveform.Warning {
	all := append([]waveform.Warning{}, s.Warnings...)
	for _, m := range s.Quantities {
		if c, ok := result.FindColumn(m.Key); ok && c.Text && c.Key == m.Key {
			all = append(all, m.Warnings...)
		}
	}
	return all
}

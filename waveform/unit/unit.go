// Package unit reads and writes quantities with units and SI prefixes:
// "4.7 kΩ", "50 ns", "12.4 kV/µs". Numbers inside the program are in SI base
// units; this package stands at its edges.
//
// Units are named by their SI symbol: "V", "A", "s", "Hz", "ohm", "H", "F",
// "J", "C", "W", "K", "K/W", "V/s", "A/s", and "1" for a ratio, which people write in
// percent. "Ω" is taken for "ohm" everywhere.
package unit

// quantity is what a unit measures, in the words of an error message.
type quantity struct {
	unit    string // canonical symbol
	article string
	name    string
	example string
}

// quantities lists what Parse can be asked for.
var quantities = []quantity{
	{"V", "a", "voltage", "5 V"},
	{"A", "a", "current", "20 A"},
	{"s", "a", "time", "50 ns"},
	{"Hz", "a", "frequency", "500 MHz"},
	{"ohm", "a", "resistance", "4.7 ohm"},
	{"H", "an", "inductance", "20 nH"},
	{"F", "a", "capacitance", "100 pF"},
	{"J", "an", "energy", "560 µJ"},
	{"C", "a", "charge", "52 nC"},
	{"W", "a", "power", "10 W"},
	{"K", "a", "temperature", "25 °C"},
	{"K/W", "a", "thermal impedance", "0.05 K/W"},
	{"V/s", "a", "voltage slope", "12 kV/µs"},
	{"A/s", "a", "current slope", "3 A/ns"},
	{"1", "a", "percentage", "0.5 %"},
}

// find returns the quantity of that unit.
func find(unit string) (quantity, bool) {
	for _, q := range quantities {
		if q.unit == canonical(unit) {
			return q, true
		}
	}
	return quantity{}, false
}

// canonical maps the signs for ohm to the word.
func canonical(unit string) string {
	if unit == "Ω" || unit == "\u2126" {
		return "ohm"
	}
	return unit
}

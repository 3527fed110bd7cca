package setup

import (
	"math"
	"strings"

	"slewbook/dpt/result"
)

// Given returns the number that a key has in the file, or by default, with its unit:
// of "circuit.l_load" the inductance [H]; "" is the unit of a count. It is NaN where the
// key is not given or is no single number; known tells whether there is such a key.
func (s *Setup) Given(name string) (x float64, unit string, known bool) {
	table, last := "", name
	if k := strings.LastIndexByte(name, '.'); k >= 0 {
		table, last = name[:k], name[k+1:]
	}
	var channel *Channel
	of, isChannel := strings.CutPrefix(table, "channel.")
	r, isRole := role(of)
	if isChannel && isRole {
		table = "channel"
		if ch, ok := s.Channel[r]; ok {
			channel = &ch
		}
	}
	k, known := findKey(table, last)
	if !known || table == "channel" && !isRole {
		return math.NaN(), "", false
	}
	if unit = k.unit; unit == roleUnit {
		unit = result.Role(r).Unit()
	}
	if table == "channel" && channel == nil {
		return math.NaN(), unit, true
	}
	switch at := k.target(s, channel).(type) {
	case *float64:
		return *at, unit, true
	case *int:
		return float64(*at), unit, true
	}
	return math.NaN(), unit, true
}

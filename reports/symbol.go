package reports

import (
	"cmp"

	"slewbook/dpt/result"
)

// Symbol returns the symbol of a quantity of a shot, "_" before its subscript.
func Symbol(key string, s *result.Shot) string { return symbol(key, isIGBT(s)) }

// RoleSymbol returns the symbol of a trace of a shot: of v, i and gate of the device
// under test those of its kind, else the role itself.
func RoleSymbol(role result.Role, s *result.Shot) string {
	return cmp.Or(roleSymbol(role, isIGBT(s)), string(role))
}

// isIGBT tells whether the shot's conditions state the device kind "igbt", for
// which some symbols differ.
func isIGBT(s *result.Shot) bool {
	c := s.Condition("kind")
	return c != nil && c.Text == "igbt"
}

// symbol returns the symbol of a quantity, "_" before its subscript. A named
// window keeps its suffix in the subscript; a key that no column knows is its
// own symbol.
func symbol(key string, igbt bool) string {
	c, ok := result.FindColumn(key)
	if !ok {
		return key
	}
	text := c.Symbol
	if igbt && c.IGBT != "" {
		text = c.IGBT
	}
	if key != c.Key {
		text += "," + key[len(c.Key)+1:]
	}
	return text
}

// inWords puts a sentence, or the name of a role, in the words of the shot's device.
func inWords(s *result.Shot, text string) string {
	if isIGBT(s) {
		return result.IGBTWords(text)
	}
	return text
}

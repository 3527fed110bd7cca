package reports

import "slewbook/dpt/result"

// Symbol returns the symbol of a quantity of a shot, "_" before its subscript.
func Symbol(key string, s *result.Shot) string { return result.Symbol(key, s.IGBT()) }

// RoleSymbol returns the symbol of a trace of a shot: of v, i and gate of the device
// under test those of its kind, else the role itself.
func RoleSymbol(role result.Role, s *result.Shot) string {
	return roleSymbol(role, s.IGBT())
}

// inWords puts a sentence, or the name of a role, in the words of the shot's device.
func inWords(s *result.Shot, text string) string {
	if s.IGBT() {
		return result.IGBTWords(text)
	}
	return text
}

package reports

import "slewbook/dpt/result"

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

package campaign

import (
	"math"
	"strconv"

	"slewbook/dpt/result"
)

// zeroCelsius is 0 °C in kelvin, by definition.
const zeroCelsius = 273.15

// Header is that of a drafted list.
func Header() []string {
	row := []string{fileColumn}
	for _, f := range fields {
		switch f.unit {
		case "", count:
			row = append(row, f.name)
		case "K":
			row = append(row, f.name+" (°C)")
		default:
			row = append(row, f.name+" ("+f.unit+")")
		}
	}
	return row
}

// Row is that of a shot in a drafted list: its conditions, as far as they are
// known.
func Row(s *result.Shot) []string {
	row := []string{s.Capture}
	for _, f := range fields {
		text := ""
		if found := s.Condition(f.name); found != nil {
			c := *found
			text = c.Text
			if !math.IsNaN(c.Value) {
				if f.unit == "K" {
					c.Value = math.Round((c.Value-zeroCelsius)*1e6) / 1e6
				}
				text = strconv.FormatFloat(c.Value, 'g', -1, 64)
			}
		}
		row = append(row, text)
	}
	return row
}

package setup

import (
	"fmt"
	"strings"

	"slewbook/dpt/result"
	"slewbook/waveform/unit"
)

// Ratings returns what the file gives of the device's limits.
func (s *Setup) Ratings() result.Ratings {
	corners, _ := parseCorners(s.Device.RBSOA) // checked when the file was read
	return result.Ratings{VMax: s.Device.VMax, IMax: s.Device.IMax, RBSOA: corners}
}

// parseCorners reads "1000 V: 240 A, 1200 V: 120 A", of voltages that rise; "" holds
// none.
func parseCorners(text string) ([]result.Corner, error) {
	const form = `expected corners of rising voltage, such as "1000 V: 240 A, 1200 V: 120 A"`
	if text == "" {
		return nil, nil
	}
	var corners []result.Corner
	for point := range strings.SplitSeq(text, ",") {
		v, i, ok := strings.Cut(point, ":")
		if !ok {
			return nil, fmt.Errorf("%q; %s", strings.TrimSpace(point), form)
		}
		var c result.Corner
		var err error
		if c.V, err = unit.Parse(strings.TrimSpace(v), "V"); err != nil {
			return nil, fmt.Errorf("%w; %s", err, form)
		}
		if c.I, err = unit.Parse(strings.TrimSpace(i), "A"); err != nil {
			return nil, fmt.Errorf("%w; %s", err, form)
		}
		if n := len(corners); c.V <= 0 || c.I <= 0 || n > 0 && c.V <= corners[n-1].V {
			return nil, fmt.Errorf("%q; %s", strings.TrimSpace(point), form)
		}
		corners = append(corners, c)
	}
	return corners, nil
}

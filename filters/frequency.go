package filters

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// prefixes are the units of frequency, largest first.
var prefixes = [...]struct {
	unit string
	size float64
}{{"GHz", 1e9}, {"MHz", 1e6}, {"kHz", 1e3}, {"Hz", 1}}

// frequency reads a number with its unit [Hz].
func frequency(s string) (float64, error) {
	for _, p := range prefixes {
		number, ok := strings.CutSuffix(s, p.unit)
		if !ok {
			continue
		}
		if v, err := strconv.ParseFloat(strings.TrimSpace(number), 64); err == nil {
			return v * p.size, nil
		}
		break
	}
	return 0, fmt.Errorf("frequency %q: expected a number and Hz, kHz, MHz or GHz, as in \"200 MHz\"", s)
}

// hertz writes a frequency as frequency reads it.
func hertz(f float64) string {
	p := prefixes[len(prefixes)-1]
	for k := len(prefixes) - 1; k >= 0 && math.Abs(f) >= prefixes[k].size; k-- {
		p = prefixes[k]
	}
	return strconv.FormatFloat(f/p.size, 'g', 12, 64) + " " + p.unit
}

package dpt

import (
	"math"

	"slewbook/dpt/result"
)

// rollOffSource names the budget line of the form of a channel's roll-off.
const rollOffSource = "form of the roll-off of "

// rollOff lists what the forms that the roll-offs of v and i may have leave open of a
// delay that is read off the phase of a ringing of frequency f [Hz]. What counts on edges
// is the delay of slow signals; at f a Gaussian delays as much as those, a single pole less
// and a maximally flat one of two poles more. Any delay up to the larger of the two is as
// likely as another, either way. A channel whose bandwidth is not stated passes what it is
// assumed to, and the ringing that it shows.
func (r *record) rollOff(f float64) []result.Contribution {
	var lines []result.Contribution
	for _, role := range []result.Role{result.Vds, result.Id} {
		bw := r.bandwidth[role]
		if !(bw > 0) {
			bw = max(defaultBandwidth, f)
		}
		u := rollOffDelay(f/bw) / (2 * math.Pi * bw) / math.Sqrt(3)
		lines = append(lines, result.Contribution{Source: rollOffSource + string(role), U: u, Unit: "s", Effect: u, Scope: result.OfRun, Basis: fromCapture})
	}
	return lines
}

// rollOffDelay is by how much, in units of 1/(2π·bandwidth), the phase delay at x times
// the -3 dB bandwidth is off that of slow signals: 1 - atan(x)/x for a single pole,
// |atan(√2x/(1 - x²))/x - √2| for two poles of the damping ratio 1/√2 (derived), whichever
// is more.
func rollOffDelay(x float64) float64 {
	if !(x > 0) {
		return 0
	}
	return max(1-math.Atan(x)/x, math.Abs(math.Atan2(math.Sqrt2*x, 1-x*x)/x-math.Sqrt2))
}

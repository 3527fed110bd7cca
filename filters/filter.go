// Package filters smooths sampled signals without moving them in time: every
// filter here has zero phase, so that an edge stays where it is and only its
// shape changes. Filters know samples and their interval, nothing of what
// they mean.
//
// A filter is designed once for a sampling interval and may then be applied to
// any number of records, from several goroutines at once:
//
//	f, err := filters.Gaussian(200e6, dt)
//	...
//	smooth, err := f.Apply(y)
//
// What all of them have in common:
//
//   - Apply returns as many new samples as it was given and leaves those alone.
//   - At its two ends the record is continued by odd extension, point symmetric
//     about its first and last sample: y[-k] = 2·y[0] - y[k]. Constants and
//     straight lines pass to the last sample, nothing rings or shrinks; noise
//     is reduced less and less towards the ends and is that of the raw record
//     at the very ends. (Savitzky-Golay fits its polynomial to the first and
//     the last window instead, which passes what the polynomial can be.)
//   - A sample that is not finite (NaN missing, ±Inf over range) makes every
//     sample NaN that it has a part in, and no other.
//   - The sum of weights is 1, so that a constant passes.
package filters

import (
	"fmt"
	"math"
)

// Filter is a filter designed for one sampling interval.
type Filter struct {
	// Name is the filter in the words that [Parse] reads, as "gauss 200 MHz"
	// (a derivative has words of its own, which Parse does not take).
	Name string
	// Bandwidth is the frequency at which the gain of the whole has fallen to
	// 1/√2, -3 dB [Hz]. It is NaN where the filter has none: it falls by less
	// up to the Nyquist frequency, or it is not linear.
	Bandwidth float64
	// Reach is how many samples to either side have a part in one of the
	// output. A record is to have more samples than that.
	Reach int
	// Apply returns the filtered samples. It fails on a record that is too
	// short.
	Apply func(y []float64) ([]float64, error)
	// RiseTime returns the 10-90 % transition duration [s] that a Gaussian edge
	// (the error function) of the given duration [s] has after the filter. Both
	// stand on samples with an edge's middle half way between two of them, read
	// with straight lines: the duration of a step (0) is 0.8 intervals if
	// nothing is filtered. NaN for a negative duration and for a derivative.
	RiseTime func(edge float64) float64
}

// newFilter makes a Filter of a function that may take it for granted that all
// samples are finite and more than reach. The samples that one bad sample at i
// spoils are those from i-reach to i+reach, or more by what ends says.
func newFilter(name string, bandwidth, dt float64, reach int, ends endRule, smooth func([]float64) []float64) Filter {
	apply := func(y []float64) ([]float64, error) {
		if need := ends.shortest(reach); len(y) < need {
			return nil, fmt.Errorf("filters: %s on a record of %d samples: expected at least %d, which the filter spans at an end; take a shorter filter", name, len(y), need)
		}
		clean, bad := bridge(y)
		out := smooth(clean)
		for _, i := range bad {
			spoil(out, i, reach, ends)
		}
		return out, nil
	}
	rise := func(edge float64) float64 { return riseTime(smooth, reach, edge, dt) }
	return Filter{name, bandwidth, reach, apply, rise}
}

// checkInterval returns an error unless dt can be a sampling interval [s].
func checkInterval(dt float64) error {
	if !(dt > 0) || math.IsInf(dt, 0) {
		return fmt.Errorf("filters: sampling interval of %g s: expected more than 0", dt)
	}
	return nil
}

// checkWindow returns an error unless n samples have one in the middle.
func checkWindow(what string, n int) error {
	if n < 1 || n%2 == 0 || n > 2*maxReach+1 {
		return fmt.Errorf("filters: %s over %d samples: expected an odd number from 1 to %d, so that one is in the middle", what, n, 2*maxReach+1)
	}
	return nil
}

// checkFrequency returns an error unless f [Hz] lies between 0 and Nyquist.
func checkFrequency(what string, f, dt float64) error {
	if err := checkInterval(dt); err != nil {
		return err
	}
	if !(f > 0 && f < 0.5/dt) {
		return fmt.Errorf("filters: %s of %s: expected more than 0 and less than %s, half the sampling rate of one sample in %g s",
			what, hertz(f), hertz(0.5/dt), dt)
	}
	return nil
}

// maxReach bounds what a filter takes in store and time [samples].
const maxReach = 1 << 20

// checkReach returns a number of samples as an int, or an error if it is beyond
// all sense.
func checkReach(what string, samples float64) (int, error) {
	if !(samples <= maxReach) {
		return 0, fmt.Errorf("filters: %s reaches over %.3g samples to either side: expected at most %d; take a higher frequency", what, samples, maxReach)
	}
	return int(samples), nil
}

package loss

import (
	"errors"
	"fmt"
	"math"
	"slices"
)

// Curve is the on-state of a device at one temperature: V0 + R·i, or the straight
// lines between points.
type Curve struct {
	Tj    float64   // [K]
	V0, R float64   // [V], [ohm]; without I and V
	I, V  []float64 // points, current rising [A], [V]
}

// Characteristic is the on-state at rising temperatures.
type Characteristic []Curve

// check tells whether the curves can be read.
func (h Characteristic) check() error {
	for k, c := range h {
		if k > 0 && !(c.Tj > h[k-1].Tj) {
			return fmt.Errorf("%g K follows on %g K; expected rising temperatures, each once", c.Tj, h[k-1].Tj)
		}
		if len(c.I) == 0 {
			if !(c.V0 >= 0 && c.R >= 0 && c.V0+c.R > 0) {
				return fmt.Errorf("at %g K: v_0 = %g V and r = %g ohm; expected zero or more, and one of them more", c.Tj, c.V0, c.R)
			}
			continue
		}
		if err := c.checkPoints(); err != nil {
			return fmt.Errorf("at %g K: %w", c.Tj, err)
		}
	}
	return nil
}

func (c Curve) checkPoints() error {
	if len(c.I) != len(c.V) || len(c.I) < 2 {
		return fmt.Errorf("%d currents and %d voltages; expected as many, two at least", len(c.I), len(c.V))
	}
	if c.I[0] < 0 || c.V[0] < 0 {
		return errors.New("a negative current or voltage; expected magnitudes")
	}
	for k := 1; k < len(c.I); k++ {
		if !(c.I[k] > c.I[k-1]) || c.V[k] < c.V[k-1] {
			return fmt.Errorf("%g A, %g V follow on %g A, %g V; expected rising currents, voltages that do not fall", c.I[k], c.V[k], c.I[k-1], c.V[k-1])
		}
	}
	return nil
}

// at returns the voltage at a current; inside tells whether the points reach there.
func (c Curve) at(i float64) (v float64, inside bool) {
	if len(c.I) == 0 {
		return c.V0 + c.R*i, true
	}
	k, _ := slices.BinarySearch(c.I, i)
	k = min(max(k, 1), len(c.I)-1)
	slope := (c.V[k] - c.V[k-1]) / (c.I[k] - c.I[k-1])
	return c.V[k-1] + slope*(i-c.I[k-1]), i >= c.I[0] && i <= c.I[len(c.I)-1]
}

// roomT is how far from the only temperature of a characteristic another still
// counts as the same, as in a grid [K].
const roomT = 2

// outside is where a reading lies beyond its data.
type outside struct{ I, Tj bool }

// at returns the voltage at a current and a temperature, by straight lines between
// the curves, and beyond their ends along the outermost ones.
func (h Characteristic) at(i, tj float64) (v float64, out outside) {
	a, b, share, inside := h.between(tj)
	out.Tj = !inside
	low, okA := a.at(i)
	high, okB := b.at(i)
	out.I = !okA || !okB
	return low + share*(high-low), out
}

// between returns the curves on both sides of a temperature.
func (h Characteristic) between(tj float64) (a, b Curve, share float64, inside bool) {
	n := len(h)
	if n == 1 {
		return h[0], h[0], 0, math.Abs(tj-h[0].Tj) <= roomT
	}
	k := 1
	for k < n-1 && tj > h[k].Tj {
		k++
	}
	return h[k-1], h[k], (tj - h[k-1].Tj) / (h[k].Tj - h[k-1].Tj), tj >= h[0].Tj && tj <= h[n-1].Tj
}

// power returns the mean of v·i while the current goes from one value to another in
// a straight line; the part of it below zero counts nothing. The integral of the
// straight lines is exact: Simpson's rule from knee to knee.
func (h Characteristic) power(from, to, tj float64) (p float64, out outside) {
	lo, hi := min(from, to), max(from, to)
	if hi <= 0 {
		return 0, out
	}
	product := func(i float64) float64 {
		v, o := h.at(i, tj)
		out.I, out.Tj = out.I || o.I, out.Tj || o.Tj
		return v * i
	}
	if lo == hi {
		return product(lo), out
	}
	start := max(lo, 0)
	sum, x := 0.0, start
	for _, knee := range append(h.knees(start, hi, tj), hi) {
		sum += (knee - x) / 6 * (product(x) + 4*product((x+knee)/2) + product(knee))
		x = knee
	}
	return sum / (hi - lo), out
}

// knees returns the currents between two at which the characteristic bends.
func (h Characteristic) knees(lo, hi, tj float64) []float64 {
	a, b, _, _ := h.between(tj)
	var out []float64
	for _, i := range append(slices.Clone(a.I), b.I...) {
		if i > lo && i < hi {
			out = append(out, i)
		}
	}
	slices.Sort(out)
	return slices.Compact(out)
}

package filters

import "math"

// halfPower is the gain at -3 dB.
const halfPower = math.Sqrt2 / 2

// response returns the gain of weights with one in the middle at f [cycles per
// sample]: the real part, which is all of it for symmetric weights.
func response(w []float64, f float64) float64 {
	sum := 0.0
	for j, m := range w {
		sum += m * math.Cos(2*math.Pi*f*float64(j-len(w)/2))
	}
	return sum
}

// root returns where f falls through 0 between lo and hi, by halving.
func root(f func(float64) float64, lo, hi float64) float64 {
	for {
		mid := (lo + hi) / 2
		if mid <= lo || mid >= hi {
			return mid
		}
		if f(mid) > 0 {
			lo = mid
		} else {
			hi = mid
		}
	}
}

// firstHalfPower returns the lowest frequency [cycles per sample] at which gain
// falls to 1/√2, looked for in steps; NaN if there is none up to one half.
func firstHalfPower(gain func(f float64) float64, step float64) float64 {
	for f := step; f < 0.5+step; f += step {
		if hi := min(f, 0.5); gain(hi) <= halfPower {
			return root(func(x float64) float64 { return gain(x) - halfPower }, f-step, hi)
		}
	}
	return math.NaN()
}

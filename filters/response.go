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

// root returns where f falls through 0 between lo and hi, to 1e-14 of it: by false
// position, the value at an end that stays halved (Illinois), or by halving where that
// leads out of the interval.
func root(f func(float64) float64, lo, hi float64) float64 {
	above, below := f(lo), f(hi)
	for last := 0; ; {
		mid := lo + (hi-lo)*above/(above-below)
		if !(mid > lo && mid < hi) {
			mid = (lo + hi) / 2
		}
		y := f(mid)
		if y == 0 || hi-lo <= 1e-14*math.Abs(mid) || mid <= lo || mid >= hi {
			return mid
		}
		if y > 0 {
			lo, above = mid, y
			if last > 0 {
				below /= 2
			}
			last = 1
		} else {
			hi, below = mid, y
			if last < 0 {
				above /= 2
			}
			last = -1
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

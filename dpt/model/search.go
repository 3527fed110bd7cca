package model

import "math"

type function = func(t float64) float64

// crossing returns the first instant in [from, to] at which f passes level in
// the given direction, NaN if it does not. It looks every step and bisects to
// below 10^-15 s.
func crossing(f function, level float64, rising bool, from, to, step float64) float64 {
	beyond := func(t float64) bool {
		if rising {
			return f(t) >= level
		}
		return f(t) <= level
	}
	was := beyond(from)
	for a := from; a < to; a += step {
		b := min(a+step, to)
		is := beyond(b)
		if !was && is {
			return bisect(beyond, a, b)
		}
		was = is
	}
	return math.NaN()
}

// bisect returns where the condition becomes true between a, where it is
// false, and b, where it is true.
func bisect(cond func(t float64) bool, a, b float64) float64 {
	for b-a > 1e-16 {
		m := a + (b-a)/2
		if m == a || m == b {
			break
		}
		if cond(m) {
			b = m
		} else {
			a = m
		}
	}
	return b
}

// quadrature returns the integral of f from `from` to `to` by Simpson's rule
// on intervals no longer than step.
func quadrature(f function, from, to, step float64) float64 {
	n := 2 * int(math.Ceil((to-from)/step/2))
	if n == 0 {
		return 0
	}
	h := (to - from) / float64(n)
	sum := f(from) + f(to)
	for k := 1; k < n; k++ {
		sum += float64(2+2*(k%2)) * f(from+float64(k)*h)
	}
	return sum * h / 3
}

// highest returns where f is largest among the points of [from, to] that are
// step apart, and its value.
func highest(f function, from, to, step float64) (t, y float64) {
	y = math.Inf(-1)
	for x := from; x <= to; x += step {
		if v := f(x); v > y {
			t, y = x, v
		}
	}
	return t, y
}

// slopeAt returns df/dt by the central difference over 2·h.
func slopeAt(f function, t, h float64) float64 { return (f(t+h) - f(t-h)) / (2 * h) }

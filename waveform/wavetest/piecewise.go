package wavetest

import (
	"math"
	"sort"
)

// Piecewise is a function of time made of polynomials, with jumps allowed
// between them. At a jump it has the value to the right. The zero value has no
// piece yet; the first one added must start at -Inf or before any use.
type Piecewise struct {
	pieces []piece
}

type piece struct {
	from float64
	c    []float64 // powers of (t - from); of t alone where from is -Inf
}

func (p piece) origin() float64 {
	if math.IsInf(p.from, -1) {
		return 0
	}
	return p.from
}

// Add appends a piece that holds from time `from` on: c[0] + c[1]·x + c[2]·x²
// + ... with x = t - from. A first piece from -Inf must be a constant.
func (p *Piecewise) Add(from float64, c ...float64) {
	if n := len(p.pieces); n > 0 && from < p.pieces[n-1].from {
		panic("wavetest: pieces must be added in the order of time")
	}
	p.pieces = append(p.pieces, piece{from, c})
}

// find returns the number of the piece that holds at t.
func (p Piecewise) find(t float64) int {
	k := sort.Search(len(p.pieces), func(k int) bool { return p.pieces[k].from > t })
	return max(k-1, 0)
}

// At returns the value at time t.
func (p Piecewise) At(t float64) float64 {
	s := p.pieces[p.find(t)]
	return horner(s.c, t-s.origin())
}

// Shift returns the function moved later by tau.
func (p Piecewise) Shift(tau float64) Piecewise {
	q := Piecewise{make([]piece, len(p.pieces))}
	for k, s := range p.pieces {
		q.pieces[k] = piece{s.from + tau, s.c}
	}
	return q
}

// span calls f for each stretch of [from, to] that lies in one piece.
func (p Piecewise) span(from, to float64, f func(a, b float64, c []float64)) {
	for k := p.find(from); k < len(p.pieces); k++ {
		s := p.pieces[k]
		end := to
		if k+1 < len(p.pieces) {
			end = min(to, p.pieces[k+1].from)
		}
		if a := max(from, s.from); end > a {
			f(a, end, shifted(s.c, a-s.origin()))
		}
		if end >= to {
			return
		}
	}
}

// Integral returns the exact integral of p·q from `from` to `to`.
func (p Piecewise) Integral(q Piecewise, from, to float64) float64 {
	sum := 0.0
	p.span(from, to, func(a, b float64, pc []float64) {
		q.span(a, b, func(u, w float64, qc []float64) {
			sum += integral(product(shifted(pc, u-a), qc), w-u)
		})
	})
	return sum
}

// Crossing returns the first instant after `from`, and not after `to`, at
// which the function passes level in the given direction (a jump across it
// counts), NaN if there is none. A piece passes the level if its two ends lie
// on either side of it. Pieces must be of degree 2 or less.
func (p Piecewise) Crossing(level float64, rising bool, from, to float64) float64 {
	found, last := math.NaN(), p.At(from)
	below := func(y float64) bool { return (y < level) == rising && y != level }
	p.span(from, to, func(a, b float64, c []float64) {
		if !math.IsNaN(found) {
			return
		}
		start := horner(c, 0)
		if below(last) && !below(start) {
			found = a
			return
		}
		last = horner(c, b-a)
		if below(start) && !below(last) {
			found = a + root(c, level, b-a)
		}
	})
	return found
}

// Max returns the largest value in [from, to], limits of jumps included.
// Pieces must be of degree 2 or less.
func (p Piecewise) Max(from, to float64) float64 {
	top := math.Inf(-1)
	p.span(from, to, func(a, b float64, c []float64) {
		top = max(top, horner(c, 0), horner(c, b-a))
		if len(c) > 2 && c[2] != 0 {
			if x := -c[1] / (2 * c[2]); x > 0 && x < b-a {
				top = max(top, horner(c, x))
			}
		}
	})
	return top
}

func horner(c []float64, x float64) float64 {
	y := 0.0
	for k := len(c) - 1; k >= 0; k-- {
		y = y*x + c[k]
	}
	return y
}

// shifted returns the coefficients in powers of x - d.
func shifted(c []float64, d float64) []float64 {
	out := append([]float64(nil), c...)
	if d == 0 {
		return out
	}
	for i := range out {
		for k := len(out) - 2; k >= i; k-- {
			out[k] += d * out[k+1]
		}
	}
	return out
}

func product(a, b []float64) []float64 {
	out := make([]float64, len(a)+len(b)-1)
	for i, x := range a {
		for k, y := range b {
			out[i+k] += x * y
		}
	}
	return out
}

// integral returns the integral of the polynomial from 0 to x.
func integral(c []float64, x float64) float64 {
	y := 0.0
	for k := len(c) - 1; k >= 0; k-- {
		y = y*x + c[k]/float64(k+1)
	}
	return y * x
}

// root returns the first x in [0, end] at which the polynomial, of degree 2 or
// less, takes the value level; it must have one.
func root(c []float64, level, end float64) float64 {
	d := append(append([]float64(nil), c...), 0, 0)
	a, b, k := d[2], d[1], d[0]-level
	if a == 0 {
		return min(max(-k/b, 0), end)
	}
	// The form without cancellation of nearly equal numbers.
	q := -(b + math.Copysign(math.Sqrt(max(b*b-4*a*k, 0)), b)) / 2
	best := end
	for _, x := range []float64{q / a, k / q} {
		// A root just below 0 is one at 0, moved by rounding.
		if x > -1e-9*end && x < best {
			best = max(x, 0)
		}
	}
	return best
}

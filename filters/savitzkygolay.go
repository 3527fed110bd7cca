package filters

import (
	"fmt"
	"math"
)

// maxOrder keeps the polynomials well away from where double precision ends.
const maxOrder = 10

// SavitzkyGolay returns the filter that fits a polynomial of that order to the n
// samples around each by least squares and takes its value in the middle, or
// its derivative (1 for the slope, in units of the samples per second) for
// samples of interval dt [s]:
//
//	out[k] = dt^-s · Σ_j y[k+j] · Σ_i (2i+1)·(2m)^(i)/(2m+i+1)^(i+1) · P_i(j)·P_i^s(0)
//
// with n = 2m+1, the Gram polynomials P_i, their s-th derivative P_i^s, and
// falling factorials x^(i). The first and the last m samples come from the
// polynomial of the first and the last window. n is odd, order < n and at
// most 10, 0 <= derivative <= order.
//
// Polynomials up to the order pass unchanged, so that rounded tops keep their
// height, where averages of the same noise flatten them; steps overshoot. The
// bandwidth of a derivative is where its gain is 3 dB below that of the true
// derivative, (2πf)^s. References: A. Savitzky, M. J. E. Golay, Anal. Chem. 36
// (1964) 1627; the formula for all points and derivatives: P. A. Gorry, Anal.
// Chem. 62 (1990) 570 (both from memory; checked against SciPy).
func SavitzkyGolay(n, order, derivative int, dt float64) (Filter, error) {
	if err := checkFit(n, order, derivative, dt); err != nil {
		return Filter{}, err
	}
	m := n / 2
	fit := gramFit{m, order, derivative, math.Pow(dt, -float64(derivative))}
	middle := fit.weights(0)
	smooth := func(y []float64) []float64 {
		out := make([]float64, len(y))
		copy(out[m:], correlate(y, middle))
		fit.fill(out[:m], y[:n], -m)
		fit.fill(out[len(y)-m:], y[len(y)-n:], 1)
		return out
	}
	unit := gramFit{m, order, derivative, 1}.weights(0)
	gain := func(f float64) float64 { return slopeGain(unit, derivative, f) }
	bandwidth := firstHalfPower(gain, 0.05/float64(n)) / dt
	name := fmt.Sprintf("sg %d %d", n, order)
	if derivative > 0 {
		name += fmt.Sprintf(", derivative %d", derivative)
	}
	f := newFilter(name, bandwidth, dt, m, fittedEnds, smooth)
	if derivative > 0 {
		f.RiseTime = func(float64) float64 { return math.NaN() }
	}
	return f, nil
}

func checkFit(n, order, derivative int, dt float64) error {
	if err := checkInterval(dt); err != nil {
		return err
	}
	if err := checkWindow("Savitzky-Golay", n); err != nil {
		return err
	}
	if order < 0 || order > min(n-1, maxOrder) {
		return fmt.Errorf("filters: Savitzky-Golay of order %d over %d samples: expected an order from 0 to %d", order, n, min(n-1, maxOrder))
	}
	if derivative < 0 || derivative > order {
		return fmt.Errorf("filters: derivative %d of a Savitzky-Golay filter of order %d: expected 0 to %d", derivative, order, order)
	}
	return nil
}

// gramFit is the fit of a polynomial to samples -m ... m, of which the s-th
// derivative times scale is wanted.
type gramFit struct {
	m, order, s int
	scale       float64
}

// weights returns those of the samples for point t of the polynomial.
func (g gramFit) weights(t int) []float64 {
	at := gram(g.m, t, g.order, g.s)
	norm := g.norms()
	w := make([]float64, 2*g.m+1)
	for j := range w {
		for i, p := range gram(g.m, j-g.m, g.order, 0) {
			w[j] += norm[i] * p * at[i]
		}
	}
	return w
}

// fill sets out to points t, t+1, ... of the polynomial through window.
func (g gramFit) fill(out, window []float64, t int) {
	a := make([]float64, g.order+1)
	for j, y := range window {
		for i, p := range gram(g.m, j-g.m, g.order, 0) {
			a[i] += p * y
		}
	}
	norm := g.norms()
	for k := range out {
		for i, p := range gram(g.m, t+k, g.order, g.s) {
			out[k] += norm[i] * p * a[i]
		}
	}
}

// norms returns (2i+1)·(2m)^(i)/(2m+i+1)^(i+1) times scale.
func (g gramFit) norms() []float64 {
	out := make([]float64, g.order+1)
	q := g.scale / float64(2*g.m+1)
	for i := range out {
		out[i] = float64(2*i+1) * q
		q *= float64(2*g.m-i) / float64(2*g.m+i+2)
	}
	return out
}

// gram returns the s-th derivatives at x of the Gram polynomials of orders 0 to
// order, which are orthogonal over -m ... m, by Gorry's recursion.
func gram(m, x, order, s int) []float64 {
	below := make([]float64, order+1) // of derivative d-1
	var p []float64
	for d := 0; d <= s; d++ {
		p = make([]float64, order+1)
		if d == 0 {
			p[0] = 1
		}
		for i := 1; i <= order; i++ {
			den := float64(i * (2*m - i + 1))
			p[i] = float64(4*i-2) / den * (float64(x)*p[i-1] + float64(d)*below[i-1])
			if i > 1 {
				p[i] -= float64((i-1)*(2*m+i)) / den * p[i-2]
			}
		}
		below = p
	}
	return p
}

// slopeGain returns the size of the gain of weights at f [cycles per sample]
// over that of the true s-th derivative.
func slopeGain(w []float64, s int, f float64) float64 {
	re, im := 0.0, 0.0
	for j, v := range w {
		sin, cos := math.Sincos(2 * math.Pi * f * float64(j-len(w)/2))
		re += v * cos
		im += v * sin
	}
	return math.Hypot(re, im) / math.Pow(2*math.Pi*f, float64(s))
}

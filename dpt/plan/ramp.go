package plan

import "math"

// ramp is the load current while the device conducts: the bank C discharges into
// L through R, the supply being slow against a pulse.
//
//	L·di/dt = v - R·i,  C·dv/dt = -i
//
// from v0, i0 at t = 0; α = R/2L, ω² = 1/LC - α².
type ramp struct {
	l, c, r float64
	v0, i0  float64
}

// at returns the current and the bank's voltage after t.
//
//	i = e^(-αt)·(i0·cos ωt + ((v0 - R·i0)/L + α·i0)/ω·sin ωt)
func (p ramp) at(t float64) (i, v float64) {
	a := p.r / (2 * p.l)
	d := (p.v0-p.r*p.i0)/p.l + a*p.i0
	w2 := 1/(p.l*p.c) - a*a
	// e^(-αt) times cos and sin/ω of real or imaginary ω; of the latter as two
	// exponentials, neither of which grows.
	e := math.Exp(-a * t)
	cos, sin := e, e*t
	switch w := math.Sqrt(math.Abs(w2)); {
	case w2 > 0:
		cos, sin = e*math.Cos(w*t), e*math.Sin(w*t)/w
	case w2 < 0:
		slow, fast := math.Exp(-t/(p.l*p.c)/(a+w)), math.Exp(-(a+w)*t)
		cos, sin = (slow+fast)/2, (slow-fast)/2/w
	}
	i = p.i0*cos + d*sin
	slope := -a*i - w2*p.i0*sin + d*cos
	return i, p.l*slope + p.r*i
}

// rises tells whether the current still rises after t.
func (p ramp) rises(t float64) bool {
	i, v := p.at(t)
	return v-p.r*i > 0
}

// reach returns when the current first reaches i, NaN if it never does.
func (p ramp) reach(i float64) float64 {
	hi := (i - p.i0) * p.l / p.v0
	for p.rises(hi) {
		if x, _ := p.at(hi); x >= i {
			return bisect(0, hi, func(t float64) bool { x, _ := p.at(t); return x >= i })
		}
		hi *= 2
	}
	top := bisect(0, hi, func(t float64) bool { return !p.rises(t) })
	if x, _ := p.at(top); x < i {
		return math.NaN()
	}
	return bisect(0, top, func(t float64) bool { x, _ := p.at(t); return x >= i })
}

// bisect returns where ok turns true between lo and hi, to the last digit.
func bisect(lo, hi float64, ok func(float64) bool) float64 {
	for range 200 {
		mid := lo + (hi-lo)/2
		if mid <= lo || mid >= hi {
			break
		}
		if ok(mid) {
			hi = mid
		} else {
			lo = mid
		}
	}
	return hi
}

// decay returns the current after it has freewheeled for t through a forward
// voltage and the inductor's resistance; it ends at zero.
//
//	L·di/dt = -vf - r·i
func decay(l, r, vf, i0, t float64) float64 {
	i := i0 - vf*t/l
	if r > 0 {
		i = (i0+vf/r)*math.Exp(-r*t/l) - vf/r
	}
	return max(i, 0)
}

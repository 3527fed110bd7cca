package format

import "math"

// precision is how finely the time stamps of a file are printed, gathered over
// all of them: a stamp that happens to end in zeros does not tell.
type precision struct {
	last int    // lowest power of ten of a last digit [s]
	mant uint64 // largest digits of a stamp, the point left out
}

var noPrecision = precision{last: math.MaxInt32}

// add takes one stamp in: mant·10^exp.
func (p *precision) add(mant uint64, exp int) {
	if mant == 0 {
		return // 0.0000e+00 tells nothing of the others
	}
	p.last = min(p.last, exp)
	p.mant = max(p.mant, mant)
}

func (p *precision) join(o precision) {
	p.last = min(p.last, o.last)
	p.mant = max(p.mant, o.mant)
}

// digits returns the most significant digits of a stamp.
func (p precision) digits() int {
	n := 0
	for m := p.mant; m > 0; m /= 10 {
		n++
	}
	return n
}

// at returns the resolution with which t [s] was printed, in seconds.
//
// A file prints either a fixed number of decimals or a fixed number of digits.
// The first makes the last decimal the resolution everywhere; the second makes
// it grow with the stamp. The coarser of the two bounds both kinds.
func (p precision) at(t float64) float64 {
	if p.mant == 0 {
		return 0
	}
	res := math.Pow10(p.last)
	if t != 0 {
		lead := int(math.Floor(math.Log10(math.Abs(t))))
		res = max(res, math.Pow10(lead-p.digits()+1))
	}
	return res
}

// ruler is precision.at for stamps that change slowly: it keeps the decade.
type ruler struct {
	precision
	low, high float64 // bounds of |t| between which res holds
	res       float64 // [s]
}

// covers tells whether res is the resolution of t.
func (r *ruler) covers(t float64) bool { return math.Abs(t) >= r.low && math.Abs(t) < r.high }

// move makes res the resolution of t.
func (r *ruler) move(t float64) {
	r.res = r.precision.at(t)
	r.low, r.high = 0, 0
	if size := math.Abs(t); size > 0 {
		lead := math.Floor(math.Log10(size))
		r.low, r.high = math.Pow(10, lead), math.Pow(10, lead+1)
	}
}

package plan

import "math"

// SmallestL returns the smallest load inductance with which the current at a
// point changes by no more than the bench's DriftMax in gap and second pulse, the
// bench being otherwise as it is [H]; NaN if no inductance does it.
//
// About max(V_F·t_gap, V·t_2)/(x·I).
func (b Bench) SmallestL(v, i float64) float64 {
	return b.smallest(&b.L, max(v*b.Width, b.VF*b.Gap)/(b.DriftMax*i), func() bool {
		p := b.Point(v, i, math.NaN())
		return p.Value("i_drift") <= b.DriftMax
	})
}

// SmallestC returns the smallest bus capacitance that sags by no more than the
// bench's SagMax at a point [F]; NaN if none does it.
//
// Without resistance L·I²/(V_set² - V²).
func (b Bench) SmallestC(v, i float64) float64 {
	return b.smallest(&b.C, b.L*i*i/(2*b.SagMax*v*v), func() bool {
		p := b.Point(v, i, math.NaN())
		return p.Value("v_sag") <= b.SagMax*v
	})
}

// smallest returns the value of an input down to which ok holds, from the
// largest values at which it does: in steps of a tenth over three decades above
// and below the guess of a stiff bus, then by halving. NaN if ok holds nowhere
// there, or everywhere.
func (b *Bench) smallest(x *float64, guess float64, ok func() bool) float64 {
	was := *x
	defer func() { *x = was }()
	try := func(log float64) bool { *x = math.Exp(log); return ok() }
	const step = 0.1
	held := false
	for log := math.Log(guess) + 7; log > math.Log(guess)-7; log -= step {
		holds := try(log)
		if held && !holds {
			return math.Exp(bisect(log, log+step, try))
		}
		held = held || holds
	}
	return math.NaN()
}

// LargestI returns the largest current at a voltage that breaks no limit and can
// be reached [A], up to ten times the largest of the matrix; NaN if there is none.
func (b *Bench) LargestI(v, tj float64) float64 {
	_, most := b.largest()
	p := b.Point(v, 10*most, tj)
	return p.nearest(10*most, func(x float64) Point { return b.Point(v, x, tj) })
}

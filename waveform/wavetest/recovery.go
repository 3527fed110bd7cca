package wavetest

import "math"

// RecoveryTriangle is a reverse recovery of straight lines, reverse current
// counted positive: it leaves zero at Start with slope Didt, reaches Irrm and
// is back at zero Tb later.
type RecoveryTriangle struct {
	Start float64 // zero crossing of the current [s]
	Didt  float64 // [A/s]
	Irrm  float64 // [A]
	Tb    float64 // from the peak to zero [s]
}

// Ta returns the time from zero to the peak, Irrm/Didt [s].
func (r RecoveryTriangle) Ta() float64 { return r.Irrm / r.Didt }

// At returns the reverse current at time t: negative, along Didt, before Start.
func (r RecoveryTriangle) At(t float64) float64 {
	x := t - r.Start
	if x <= r.Ta() {
		return r.Didt * x
	}
	return r.Irrm * max(0, 1-(x-r.Ta())/r.Tb)
}

// Trr returns Ta + Tb; every end rule agrees on it [s].
func (r RecoveryTriangle) Trr() float64 { return r.Ta() + r.Tb }

// Qrr returns ½·Trr·Irrm [C].
func (r RecoveryTriangle) Qrr() float64 { return r.Trr() * r.Irrm / 2 }

// RecoveryTail is a reverse recovery that falls from its peak exponentially:
// Irrm·exp(-(t - t_peak)/Tau).
type RecoveryTail struct {
	Start float64 // zero crossing of the current [s]
	Didt  float64 // [A/s]
	Irrm  float64 // [A]
	Tau   float64 // [s]
}

// Ta returns the time from zero to the peak, Irrm/Didt [s].
func (r RecoveryTail) Ta() float64 { return r.Irrm / r.Didt }

// At returns the reverse current at time t: negative, along Didt, before Start.
func (r RecoveryTail) At(t float64) float64 {
	x := t - r.Start
	if x <= r.Ta() {
		return r.Didt * x
	}
	return r.Irrm * math.Exp(-(x-r.Ta())/r.Tau)
}

// TrrLine returns t_rr by the rule of a straight line through the points at
// the fractions a > b of Irrm, drawn on to zero [s]. After the peak it ends at
// Tau·(ln(1/b) + b·ln(a/b)/(a - b)): 1.504 Tau for 0.75 and 0.50, 1.879 Tau for
// 0.90 and 0.25.
func (r RecoveryTail) TrrLine(a, b float64) float64 {
	return r.Ta() + r.Tau*(math.Log(1/b)+b*math.Log(a/b)/(a-b))
}

// TrrLevel returns t_rr by the rule of a fall to the fraction p of Irrm [s]:
// 2.303 Tau after the peak for 10 %.
func (r RecoveryTail) TrrLevel(p float64) float64 { return r.Ta() + r.Tau*math.Log(1/p) }

// Qrr returns the whole charge, ½·Ta·Irrm + Irrm·Tau [C].
func (r RecoveryTail) Qrr() float64 { return r.Irrm * (r.Ta()/2 + r.Tau) }

// QrrUntil returns the charge up to x seconds after the peak [C].
func (r RecoveryTail) QrrUntil(x float64) float64 {
	return r.Irrm * (r.Ta()/2 - r.Tau*math.Expm1(-x/r.Tau))
}

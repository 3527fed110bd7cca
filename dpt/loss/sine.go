package loss

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"slewbook/dpt/curve"
)

// cycles returns what one position of a three-phase converter loses, summed over the
// carrier cycles of one output period.
//
// The phase current is Î·sin θ, the upper side conducts for the share
// ½(1 + m·sin(θ + φ)) of each cycle, around its middle; with an inductance the current
// has its ripple at the edges as well. Each edge counts at the current of its own
// instant, if that is positive (the lower side has the other half of the period);
// conduction follows straight lines from edge to edge, of the other legs too where there
// is ripple. The number of cycles is f_sw/f_out, rounded.
func (s stress) cycles(r *reading, t temperatures) [parts]float64 {
	n := int(math.Round(s.f / s.c.Fout))
	phi := math.Acos(s.c.CosPhi)
	dead := s.dead()
	var p [parts]float64
	half := math.Pi / float64(n) // of a cycle, as an angle
	current := func(angle float64) float64 { return s.peak * math.Sin(angle) }
	for k := range n {
		middle := (2*float64(k) + 1) * half
		d := s.duties(middle + phi)
		at := func(u float64) float64 { return current(middle+u*half) + s.ripple(d, u) }
		on, off := at(-d[0]), at(d[0])
		if max(at(-1), on, off, at(1)) <= 0 {
			continue
		}
		if on > 0 {
			p[partOn] += r.energy(turnOn, on, t.T)
			p[partRr] += r.energy(recovery, on, t.D)
		}
		if off > 0 {
			p[partOff] += r.energy(turnOff, off, t.T)
		}
		last := 0.0
		for _, u := range s.bends(d) {
			to, transistor, tj := partCondD, s.c.Synchronous, t.D
			if u <= d[0] {
				to, transistor, tj = partCondT, true, t.T
			}
			if last == 0 {
				p[to] += u * r.power(transistor, at(-u), at(u), tj)
			} else {
				p[to] += (u - last) / 2 * (r.power(transistor, at(-u), at(-last), tj) + r.power(transistor, at(last), at(u), tj))
			}
			last = u
		}
		if dead != 0 {
			p[partDead] += dead * (r.power(false, on, on, t.D) + r.power(false, off, off, t.D))
			p[partCondD] -= zeroNaN(dead) * (r.power(true, on, on, t.D) + r.power(true, off, off, t.D))
		}
	}
	for _, k := range []part{partOn, partOff, partRr} {
		p[k] *= s.f / float64(n)
	}
	for _, k := range []part{partCondT, partCondD, partDead} {
		p[k] /= float64(n)
	}
	return p
}

// duties returns the shares of the upper sides in the cycle around an angle of the phase
// voltage: of the leg itself, and of the others.
func (s stress) duties(angle float64) [3]float64 {
	duty := func(leg float64) float64 { return (1 + s.c.M*math.Sin(angle+leg*2*math.Pi/3)) / 2 }
	return [3]float64{duty(0), duty(1), duty(-1)}
}

// bends returns where the current of a phase bends in half a cycle, as shares of it from
// the middle on: where a leg switches. Without ripple only the own leg counts.
func (s stress) bends(d [3]float64) []float64 {
	out := []float64{d[0], 1}
	if !math.IsNaN(s.c.L) {
		out = append(out, d[1], d[2])
		slices.Sort(out)
	}
	return out
}

// ripple is by how much the current of a phase is off its sine at a share u of half a
// cycle after its middle [A]; 0 without an inductance.
//
//	ΔI = V/(2·L·f)·((2·min(u, d) - min(u, d2) - min(u, d3)) - u·(2d - d2 - d3))/3
//
// is the integral from the middle on of what the voltage at an isolated star differs from
// its mean, the three legs being switched around one middle (derived). It is odd, so that
// it passes zero in the middle and at the ends of the cycle.
func (s stress) ripple(d [3]float64, u float64) float64 {
	switch {
	case math.IsNaN(s.c.L):
		return 0
	case u < 0:
		return -s.ripple(d, -u)
	}
	return s.c.V / (2 * s.c.L * s.f) * ((2*min(u, d[0]) - min(u, d[1]) - min(u, d[2])) - u*(2*d[0]-d[1]-d[2])) / 3
}

// largestRipple is that of the edges in all cycles; NaN without an inductance.
func (s stress) largestRipple() float64 {
	switch {
	case math.IsNaN(s.c.L):
		return math.NaN()
	case s.c.Kind != ThreePhase:
		return (s.peak - s.valley) / 2
	}
	n := int(math.Round(s.f / s.c.Fout))
	most := 0.0
	for k := range n {
		d := s.duties(2 * math.Pi * (float64(k) + 0.5) / float64(n))
		most = max(most, s.ripple(d, d[0]))
	}
	return most
}

// fitPoints is over how many currents the closed form takes the energies and the
// on-state to be a + bI + cI² and V0 + r·I.
const fitPoints = 33

// closed returns the same in closed form, for energies a + bI + cI² and on-states
// V0 + r·I fitted from 0 (or the smallest current of the data) to Î, without ripple:
//
//	P_sw   = f·(a/2 + b·Î/π + c·Î²/4)
//	P_T    = V0·Î·(1/(2π) + m·cos φ/8) + r·Î²·(1/8 + m·cos φ/(3π))
//	P_D    = V0·Î·(1/(2π) - m·cos φ/8) + r·Î²·(1/8 - m·cos φ/(3π))
//
// as handbooks of power modules give them (from memory). In dead times the diode
// conducts for the channel: 2·t_dead·f·(V0·Î/π + r·Î²/4) of each, the mean of v·i over
// the half wave (derived).
func (s stress) closed(r *reading, t temperatures) [parts]float64 {
	var p [parts]float64
	for k, at := range map[event]struct {
		part part
		tj   float64
	}{turnOn: {partOn, t.T}, turnOff: {partOff, t.T}, recovery: {partRr, t.D}} {
		a := s.fit(2, func(i float64) float64 { return r.energy(k, i, at.tj) })
		p[at.part] = s.f * curve.HalfSineMean(a[0], a[1], a[2], s.peak)
	}
	mc := s.c.M * s.c.CosPhi
	line := func(transistor bool, tj float64) []float64 {
		// The mean of v·i at one current is v·i itself.
		return s.fit(1, func(i float64) float64 { return r.power(transistor, i, i, tj) / i })
	}
	cond := func(a []float64, sign float64) float64 {
		return a[0]*s.peak*(1/(2*math.Pi)+sign*mc/8) + a[1]*s.peak*s.peak*(1./8+sign*mc/(3*math.Pi))
	}
	half := func(a []float64) float64 { return a[0]*s.peak/math.Pi + a[1]*s.peak*s.peak/4 }
	p[partCondT] = cond(line(true, t.T), 1)
	free := line(s.c.Synchronous, t.D)
	p[partCondD] = cond(free, -1)
	if dead := s.dead(); dead != 0 {
		p[partDead] = 2 * dead * half(line(false, t.D))
		p[partCondD] -= 2 * zeroNaN(dead) * half(free)
	}
	return p
}

// fit returns the polynomial of that degree through y over the currents of the half
// wave, by least squares; NaN where y has none.
func (s stress) fit(degree int, y func(float64) float64) []float64 {
	a := mat.NewDense(fitPoints, degree+1, nil)
	b := mat.NewVecDense(fitPoints, nil)
	for k := range fitPoints {
		x := (float64(k) + 0.5) / fitPoints
		for d, power := 0, 1.0; d <= degree; d++ {
			a.Set(k, d, power)
			power *= x
		}
		b.SetVec(k, y(x*s.peak))
	}
	out := make([]float64, degree+1)
	var z mat.VecDense
	if err := z.SolveVec(a, b); err != nil {
		for d := range out {
			out[d] = math.NaN()
		}
		return out
	}
	for d := range out {
		out[d] = z.AtVec(d) / math.Pow(s.peak, float64(d))
	}
	return out
}

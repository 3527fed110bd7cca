package model

import (
	"math"
	"math/rand/v2"

	"slewbook/waveform"
)

// Beyond is what channels of a bench have besides gain, zero, delay, a Gaussian
// bandwidth, noise and bits. A measurement does not know of it.
type Beyond struct {
	Poles    int     // 1 or 2 (Butterworth): roll-off of so many poles in place of the Gaussian one
	Lead     float64 // part of the signal that comes through a resonance of the ground lead
	LeadF    float64 // its frequency [Hz]
	LeadZeta float64 // and damping ratio
	Droop    float64 // time constant of a coil or transformer [s]; 0 for none
	Overload float64 // part of the signal that goes slowly after every step
	Recovery float64 // with this time constant [s]
}

// respond returns what the channel makes of a signal before its delay, its noise
// and its converter: a table over the span, finer than samples and bandwidth, or
// the signal itself where nothing is in its way.
func (c Channel) respond(f function, span waveform.Interval, dt float64) function {
	if c.Bandwidth == 0 && c.Beyond == (Beyond{}) {
		return f
	}
	h, sigma := dt/4, 0.0
	if c.Bandwidth > 0 {
		sigma = math.Sqrt(math.Ln2) / (2 * math.Pi * c.Bandwidth)
		h = min(h, sigma/5)
	}
	pad := 20*sigma + 100e-9 + math.Abs(c.Delay)
	t := newTable(f, span.From-pad, span.To+pad, h)
	b := c.Beyond
	switch w := 2 * math.Pi * c.Bandwidth * h; {
	case sigma == 0:
	case b.Poles == 1:
		t.y = onePole(t.y, w)
		t.from -= h / w
	case b.Poles == 2:
		t.y = twoPoles(t.y, w, math.Sqrt(0.5))
		t.from -= h * math.Sqrt2 / w
	default:
		t.y = gauss(t.y, sigma/h)
	}
	if b.Lead > 0 {
		w := 2 * math.Pi * b.LeadF * h
		t.y = mixed(t.y, twoPoles(t.y, w, b.LeadZeta), b.Lead)
	}
	if b.Overload > 0 {
		t.y = mixed(t.y, onePole(t.y, h/b.Recovery), b.Overload)
	}
	if b.Droop > 0 {
		slow := 0.0
		for k, y := range t.y {
			t.y[k] = y - slow
			slow += (y - slow) * h / b.Droop
		}
	}
	return t.at
}

// hiss returns the source of the channel's noise of unit rms, a sample a call.
func (c Channel) hiss(rng *rand.Rand, dt float64) func() float64 {
	if c.NoiseBW == 0 {
		return rng.NormFloat64
	}
	s := math.Sqrt(math.Ln2) / (2 * math.Pi * c.NoiseBW * dt)
	n := int(math.Ceil(4 * s))
	weights, past, power := make([]float64, 2*n+1), make([]float64, 2*n+1), 0.0
	for k := range weights {
		u := float64(k-n) / s
		weights[k], past[k] = math.Exp(-u*u/2), rng.NormFloat64()
		power += weights[k] * weights[k]
	}
	next := 0
	return func() float64 {
		past[next] = rng.NormFloat64()
		next = (next + 1) % len(past)
		sum := 0.0
		for k, w := range weights {
			sum += w * past[(next+k)%len(past)]
		}
		return sum / math.Sqrt(power)
	}
}

// table is a function on an even grid.
type table struct {
	from, h float64
	y       []float64
}

func newTable(f function, from, to, h float64) *table {
	t := &table{from, h, make([]float64, int((to-from)/h)+2)}
	for k := range t.y {
		t.y[k] = f(from + float64(k)*h)
	}
	return t
}

// at interpolates by the cubic through four points; outside the table it is the
// value at its end.
func (t *table) at(x float64) float64 {
	p := (x - t.from) / t.h
	k := min(max(int(p), 1), len(t.y)-3)
	u := min(max(p-float64(k), -1), 2)
	y := t.y[k-1 : k+3]
	return -u*(u-1)*(u-2)/6*y[0] + (u*u-1)*(u-2)/2*y[1] - u*(u+1)*(u-2)/2*y[2] + u*(u*u-1)/6*y[3]
}

// gauss returns y behind a Gaussian of standard deviation s samples.
func gauss(y []float64, s float64) []float64 {
	n := int(math.Ceil(5 * s))
	weights, sum := make([]float64, 2*n+1), 0.0
	for k := range weights {
		u := float64(k-n) / s
		weights[k] = math.Exp(-u * u / 2)
		sum += weights[k]
	}
	out := make([]float64, len(y))
	for j := range y {
		if j < n || j+n >= len(y) {
			out[j] = y[j]
			continue
		}
		x := 0.0
		for k, w := range weights {
			x += w * y[j-n+k]
		}
		out[j] = x / sum
	}
	return out
}

// onePole returns y behind a pole at w radians a sample, exactly for straight
// lines between the samples.
func onePole(y []float64, w float64) []float64 {
	out := make([]float64, len(y))
	out[0] = y[0]
	e := math.Exp(-w)
	for k := 1; k < len(y); k++ {
		rise := (y[k] - y[k-1]) / w
		out[k] = y[k] - rise + (out[k-1]-y[k-1]+rise)*e
	}
	return out
}

// twoPoles returns y behind two poles of w radians a sample and damping ratio
// zeta, by the trapezoid rule in the state space.
func twoPoles(y []float64, w, zeta float64) []float64 {
	out := make([]float64, len(y))
	x, v := y[0], 0.0 // output, and its change a radian
	out[0] = x
	a := w / 2
	det := 1 + 2*zeta*a + a*a
	for k := 1; k < len(y); k++ {
		r1 := x + a*v
		r2 := v + a*(y[k]+y[k-1]) - a*x - 2*zeta*a*v
		x, v = ((1+2*zeta*a)*r1+a*r2)/det, (r2-a*r1)/det
		out[k] = x
	}
	return out
}

// mixed returns (1 - part)·a + part·b.
func mixed(a, b []float64, part float64) []float64 {
	out := make([]float64, len(a))
	for k := range a {
		out[k] = (1-part)*a[k] + part*b[k]
	}
	return out
}

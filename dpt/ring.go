package dpt

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/optimize"

	"slewbook/dpt/result"
	"slewbook/waveform"
)

// Ringing is read once it has fallen to a part of its peak, since the device's
// capacitance, and with it the frequency, changes with a large swing; for so
// many periods at most.
const (
	ringSmall = 0.4
	ringTo    = 10.0
)

// ring reads frequency and damping ratio of the ringing of a signal after the
// edge, by a least-squares fit of
//
//	y = c + exp(-α·t)·(a·cos ωt + b·sin ωt)
//
// to its decaying part: f = ω/2π as it is seen, ζ = α/√(α² + ω²). An envelope
// that does not decay is told.
func (e *edge) ring(role result.Role, level float64, from float64) (f, zeta reading) {
	const def = "fit of a decaying oscillation"
	tr, _ := e.trace(role)
	none := func(text string) (reading, reading) {
		w := &waveform.Warning{Code: waveform.NotInRecord, Channel: string(role), Over: e.search, Text: text}
		return missing(def, w), missing(def, w)
	}
	iv := waveform.Interval{From: from, To: part(e.search, 0, 0.5).To}
	if !(iv.Duration() > 0) {
		return none("the edge leaves no stretch to look for ringing on")
	}
	peak := 0.0
	for _, y := range tr.Samples(iv) {
		peak = max(peak, math.Abs(y-level))
	}
	floor := max(0.1*peak, 2*e.sigma[role])
	period := ringPeriod(tr, level, iv, floor)
	if !(period > 4*tr.Dt) || !(peak > 4*e.sigma[role]) {
		return none(fmt.Sprintf("no ringing of three periods stands out of the noise of %s", role))
	}
	small := iv.From
	lo, hi := tr.Indices(iv)
	for k := lo; k < hi; k++ {
		switch swing := math.Abs(tr.Y[k] - level); {
		case swing > ringSmall*peak:
			small = tr.Time(k)
		case swing > floor:
			iv.To = tr.Time(k)
		}
	}
	iv = waveform.Interval{From: small, To: min(iv.To, small+ringTo*period)}
	if iv.Duration() < 3*period {
		return none(fmt.Sprintf("no ringing of three periods is left once it has fallen to %.0f %% of its peak", 100*ringSmall))
	}
	fit := fitRing(tr, iv, 2*math.Pi/period)
	q := reading{over: iv, def: def}
	f, zeta = q, q
	f.value, f.u = fit.omega/(2*math.Pi), fit.uOmega/(2*math.Pi)
	zeta.value, zeta.u = fit.alpha/math.Hypot(fit.alpha, fit.omega), fit.uAlpha/fit.omega
	if !(fit.residual < 0.5*fit.amplitude) {
		return none("the ringing is no single decaying oscillation: the fit leaves more than half of it")
	}
	if zeta.value <= 0 {
		zeta.warn(&waveform.Warning{Code: waveform.RingGrowing, Channel: string(role), Over: iv,
			Text: fmt.Sprintf("the ringing of %s at %.4g MHz does not decay over %.3g ns", role, f.value*1e-6, iv.Duration()*1e9)})
	}
	return f, zeta
}

// ringFit is a fitted decaying oscillation.
type ringFit struct {
	omega, alpha   float64 // [1/s]
	uOmega, uAlpha float64 // standard uncertainties from the residual [1/s]
	amplitude      float64 // root mean square of the oscillation [unit]
	residual       float64 // of what is left [unit]
}

// fitRing minimises the residual over ω and α; level and amplitudes are linear.
func fitRing(tr *waveform.Trace, iv waveform.Interval, omega float64) ringFit {
	lo, hi := tr.Indices(iv)
	y := tr.Y[lo:hi]
	n := len(y)
	design := mat.NewDense(n, 3, nil)
	target := mat.NewVecDense(n, y)
	left := mat.NewVecDense(n, nil)
	sum := func(x []float64) float64 {
		w, a := x[0]*omega, x[1]*omega
		for k := range n {
			t := float64(k) * tr.Dt
			env := math.Exp(-a * t)
			design.Set(k, 0, 1)
			design.Set(k, 1, env*math.Cos(w*t))
			design.Set(k, 2, env*math.Sin(w*t))
		}
		var c mat.VecDense
		if c.SolveVec(design, target) != nil {
			return math.Inf(1)
		}
		left.MulVec(design, &c)
		left.SubVec(target, left)
		return mat.Dot(left, left)
	}
	// The sum has a minimum for every period that fits in more or less, so the
	// frequency is scanned first.
	start, least := []float64{1, 0.02}, math.Inf(1)
	for w := 0.85; w <= 1.15; w += 0.01 {
		for _, a := range []float64{0.005, 0.03, 0.1} {
			if s := sum([]float64{w, a}); s < least {
				start, least = []float64{w, a}, s
			}
		}
	}
	best, err := optimize.Minimize(optimize.Problem{Func: sum}, start, &optimize.Settings{FuncEvaluations: 400}, &optimize.NelderMead{SimplexSize: 0.005})
	fit := ringFit{omega: math.NaN(), alpha: math.NaN(), residual: math.NaN()}
	if err != nil && best == nil {
		return fit
	}
	x, s := best.X, sum(best.X)
	fit.omega, fit.alpha = math.Abs(x[0])*omega, x[1]*omega
	fit.residual, fit.amplitude = math.Sqrt(s/float64(n)), waveform.StdDev(y)
	// Curvature of the sum of squares gives the uncertainties.
	const h = 1e-4
	curve := func(d int) float64 {
		up, down := []float64{x[0], x[1]}, []float64{x[0], x[1]}
		up[d] += h
		down[d] -= h
		return (sum(up) - 2*s + sum(down)) / (h * h)
	}
	variance := 2 * s / float64(max(n-5, 1))
	fit.uOmega, fit.uAlpha = omega*math.Sqrt(variance/curve(0)), omega*math.Sqrt(variance/curve(1))
	return fit
}

// ringing reads the ringing after the edge: of v after a turn-off, of i, without
// the load's ramp under it, after a turn-on.
func (m *measurer) ringing(e *edge) {
	if e.kind == result.TurnOff {
		from := waveform.FirstCrossing(e.v, e.bus.level, waveform.Rising, e.search)
		m.read["f_ring_off"], m.read["zeta_off"] = e.ring(result.Vds, e.bus.level, from)
		return
	}
	flat := *e
	flat.i = e.withoutRamp()
	from := m.read["t_rr"].over.To
	m.read["f_ring_on"], m.read["zeta_on"] = flat.ring(result.Id, 0, from)
}

// withoutRamp returns the current less the load line, from the edge on.
func (e *edge) withoutRamp() *waveform.Trace {
	lo, hi := e.i.Indices(e.search)
	out := *e.i
	out.T0, out.Y = e.i.Time(lo), make([]float64, hi-lo)
	for k := range out.Y {
		out.Y[k] = e.i.Y[lo+k] - e.line.line.At(e.i.Time(lo+k))
	}
	return &out
}

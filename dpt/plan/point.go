package plan

import (
	"fmt"
	"math"
)

// Point is one point of the matrix with its pulses worked out.
type Point struct {
	bench *Bench

	V, I, Tj float64 // wanted at the edges [V], [A], [K]; Tj is NaN if not given

	VSet  float64 // voltage that the bank is charged to [V]
	T1    float64 // width of the first pulse [s]
	IOff  float64 // current at the first turn-off [A]
	VOff  float64 // bus at the first turn-off [V]
	IOn   float64 // current at the second turn-on [A]
	IEnd  float64 // current at the end of the second pulse [A]
	VEnd  float64 // bus at the end of the second pulse [V]
	Short string  // why the point cannot be reached, "" if it can
}

// resistance is what the ramp goes through: inductor, bank and device.
func (b *Bench) resistance() float64 { return b.LR + b.ESR + b.ROn }

// Point works out one point of the bench.
func (b *Bench) Point(v, i, tj float64) Point {
	p := Point{bench: b, V: v, I: i, Tj: tj, VSet: v}
	if b.Compensate {
		p.VSet = b.setVoltage(v, i)
	}
	first := ramp{b.L, b.C, b.resistance(), p.VSet, 0}
	if i > b.LSat {
		// Its ramp bends, so that neither width nor sag follow from circuit.l_load.
		return p.unreachable(fmt.Sprintf("%.4g A is beyond the saturation of the inductor, inductor.i_sat = %.4g A, where circuit.l_load does not hold; expected less, or another inductor", i, b.LSat))
	}
	if p.T1 = first.reach(i); math.IsNaN(p.T1) {
		return p.unreachable(fmt.Sprintf("the bank cannot drive %.4g A into the inductor at %.4g V", i, p.VSet))
	}
	p.IOff, p.VOff = first.at(p.T1)
	p.IOn = decay(b.L, b.LR, b.VF, p.IOff, b.Gap)
	second := ramp{b.L, b.C, b.resistance(), p.VOff, p.IOn}
	p.IEnd, p.VEnd = second.at(b.Width)
	if x := p.VOff + p.IOn + p.IEnd + p.VEnd; math.IsNaN(x) || math.IsInf(x, 0) {
		return p.unreachable("the pulses have no numbers: what is given lies too far from any bench; expected inductance, capacitance, resistances and times of one")
	}
	return p
}

// unreachable is the point without figures, and why.
func (p Point) unreachable(why string) Point {
	nan := math.NaN()
	p.Short = why
	p.VSet, p.T1, p.IOff, p.VOff, p.IOn, p.IEnd, p.VEnd = nan, nan, nan, nan, nan, nan, nan
	return p
}

// setVoltage returns the voltage to charge to, so that v is left when the
// current has reached i.
//
// Without resistance it is √(v² + L·i²/C).
func (b *Bench) setVoltage(v, i float64) float64 {
	// The energy that the shot takes hardly depends on the voltage that it is
	// taken from, so that adding what is missing of v² comes down on it fast.
	set := math.Sqrt(v*v + b.L*i*i/b.C)
	for range 100 {
		r := ramp{b.L, b.C, b.resistance(), set, 0}
		_, left := r.at(r.reach(i))
		if math.IsNaN(left) || math.Abs(left-v) <= 1e-13*v {
			break
		}
		set = math.Sqrt(set*set + v*v - left*left)
	}
	return set
}

// Points returns the points of the matrix from low to high: voltage, then
// current, then temperature, since the first shots are to be those that do the
// least if something is wrong.
func (b *Bench) Points() []Point {
	temperatures := b.Temperatures
	if len(temperatures) == 0 {
		temperatures = []float64{math.NaN()}
	}
	var all []Point
	for _, tj := range sorted(temperatures) {
		for _, v := range sorted(b.Voltages) {
			for _, i := range sorted(b.Currents) {
				all = append(all, b.Point(v, i, tj))
			}
		}
	}
	return all
}

package loss

import (
	"fmt"
	"math"

	"slewbook/dpt/curve"
)

// Energies are the grids that a double-pulse campaign has handed over. nil is a
// grid that there is none of.
type Energies struct {
	On, Off  *curve.Grid // of the transistor
	Recovery *curve.Grid // of the freewheeling device
}

// event is one of the three energies.
type event int

const (
	turnOn event = iota
	turnOff
	recovery
	events
)

// keys are those of the quantities, by event.
var keys = [events]string{"e_on", "e_off", "e_rr"}

func (e Energies) grid(k event) *curve.Grid { return [events]*curve.Grid{e.On, e.Off, e.Recovery}[k] }

// input is an input of the uncertainty: something that one standard uncertainty
// moves all at once.
type input struct {
	source string
	u      float64 // relative, NaN where it is not one number
	kind   inputKind
	grid   event             // of ownOfGrid
	shared curve.SharedInput // of sharedByGrids
}

// inputKind is what an input moves.
type inputKind int

const (
	nothing       inputKind = iota
	sharedByGrids           // every grid that has the shared input
	ownOfGrid               // one grid, by the rest of its u
	onTransistor            // the on-states
	onDiode
	rthTransistor // the thermal resistances
	rthDiode
	rthSink
)

// reading reads energies and voltages for one state of the inputs, and notes where it
// went beyond the data.
type reading struct {
	c      *Converter
	e      Energies
	allow  map[curve.Variable]bool // beyond which ends of the data it may go
	moved  input
	err    error // the first
	beyond map[string]bool
	total  [events]float64 // of the energies read since the last reset
	past   [events]float64 // those of them that lie beyond the data
}

func newReading(c *Converter, e Energies, opt Options) *reading {
	r := &reading{c: c, e: e, allow: map[curve.Variable]bool{}}
	for _, v := range opt.Extrapolate {
		r.allow[v] = true
	}
	return r
}

// reset forgets what was noted.
func (r *reading) reset() {
	r.err, r.beyond = nil, map[string]bool{}
	r.total, r.past = [events]float64{}, [events]float64{}
}

// energy returns the energy of an event at a current and a junction temperature; NaN
// where there is no grid or no number.
func (r *reading) energy(k event, i, tj float64) float64 {
	g := r.e.grid(k)
	if g == nil {
		if k == recovery && r.c.NoRecovery {
			return 0
		}
		return math.NaN()
	}
	at := curve.At{I: i, V: r.c.bus(), Tj: tj, Rg: r.c.RgOn}
	if k == turnOff {
		at.Rg = r.c.RgOff
	}
	est, err := r.lookUp(g, at)
	if err != nil {
		if r.err == nil {
			r.err = err
		}
		return math.NaN()
	}
	e := est.Value + r.shift(k, g, est)
	r.total[k] += math.Abs(e)
	if !est.Inside {
		r.past[k] += math.Abs(e)
	}
	return e
}

// lookUp reads a grid, beyond its data only where that is allowed, which it notes.
func (r *reading) lookUp(g *curve.Grid, at curve.At) (curve.Estimate, error) {
	est, err := g.At(at)
	if err == nil {
		return est, nil
	}
	for _, v := range g.Beyond(at) {
		if !r.allow[v] {
			return est, fmt.Errorf("%w; --extrapolate %s goes beyond, marked", err, v)
		}
	}
	if est, err = g.Extrapolate(at); err != nil {
		return est, err
	}
	for _, v := range g.Beyond(at) {
		r.beyond[g.Quantity+" beyond its data in "+string(v)] = true
	}
	if est.Value < 0 {
		r.beyond[g.Quantity+" falls below zero beyond its data"] = true
	}
	return est, nil
}

// shift is by how much the moved input changes an energy.
func (r *reading) shift(k event, g *curve.Grid, est curve.Estimate) float64 {
	switch {
	case r.moved.kind == ownOfGrid && r.moved.grid == k:
		shared := 0.0
		for _, x := range est.Shared {
			shared += x * x
		}
		return math.Sqrt(max(est.U*est.U-shared, 0))
	case r.moved.kind == sharedByGrids:
		for n, s := range g.Shared {
			if s.SharedInput == r.moved.shared {
				return est.Shared[n]
			}
		}
	}
	return 0
}

// power returns the mean of v·i of a device, as Characteristic.power.
func (r *reading) power(transistor bool, from, to, tj float64) float64 {
	d, name, moved := r.c.Diode, "diode", r.moved.kind == onDiode
	if transistor {
		d, name, moved = r.c.Transistor, "transistor", r.moved.kind == onTransistor
	}
	if d.On == nil {
		return math.NaN()
	}
	p, out := d.On.power(from, to, tj)
	for _, x := range []struct {
		out bool
		v   curve.Variable
	}{{out.I, curve.Current}, {out.Tj, curve.Temperature}} {
		if !x.out {
			continue
		}
		if !r.allow[x.v] && r.err == nil {
			r.err = fmt.Errorf("%s.on at %.4g to %.4g A, %.4g K lies beyond what is given in %s: %w; --extrapolate %s goes beyond, marked", name, max(min(from, to), 0), max(from, to), tj, x.v, curve.ErrOutside, x.v)
		}
		r.beyond[name+".on beyond what is given in "+string(x.v)] = true
	}
	if moved {
		p *= 1 + r.moved.u
	}
	return p
}

package wavetest

import (
	"math"

	"slewbook/waveform"
)

// Channel says what an instrument does to one signal of a DoublePulse.
type Channel struct {
	Lag    float64        // the record reads x(t - Lag) [s]
	Offset float64        // added [unit of the signal]
	Noise  float64        // normal noise, rms [unit of the signal]
	Bits   int            // resolution over Range; 0 leaves the samples as they are
	Range  waveform.Range // input range
}

// DoublePulse is a whole ideal shot: straight ramps in the order gate, current,
// voltage at turn-on and gate, voltage, current at turn-off, with the load
// inductance's ramp under them: its slope is (V - v)/LLoad at every instant.
// While current moves between devices v = V ∓ LLoop·di/dt. In the on state
// v = 0. The first command comes at t = 0.
type DoublePulse struct {
	V     float64 // bus voltage [V]
	I     float64 // load current when v begins to rise at the first turn-off [A]
	LLoad float64 // [H]
	LLoop float64 // [H]

	OnTi, OnTv   float64 // turn-on: full ramps of current and voltage [s]
	OffTv, OffTi float64 // turn-off: full ramps of voltage and current [s]

	Irrm float64 // recovery peak above the load current at turn-on [A]
	Tb   float64 // its straight fall, at most OnTv, while v falls [s]

	VLow, VHigh float64 // gate levels [V]
	GateRamp    float64 // full ramp of the gate, both ways [s]
	NoGate      bool    // leaves the gate out of the capture
	DelayOn     float64 // from the gate's first move to the current's [s]
	DelayOff    float64 // from the gate's first move to the voltage's [s]

	Pulses int     // number of pulses, 1 or more
	Gap    float64 // from the command to turn off to the next to turn on [s]
	Width  float64 // from command to command of each pulse after the first [s]
	Tail   float64 // record after the last edge [s]

	RingV Ring // added to v once the current has fallen, until the next turn-on; Start is ignored
	RingI Ring // added to i once the voltage has fallen, until the next turn-off; Start is ignored

	ChV, ChI, ChG Channel
	Seed          uint64 // of the noise

	Partner bool    // adds voltage, current and gate of the freewheeling device to the capture
	Dead    float64 // from a gate's first move to the other's, at both edges of a gap; negative for an overlap [s]
	ChVO    Channel // of its voltage
	ChIO    Channel // of its current
	ChGO    Channel // of its gate
}

// Example returns a DoublePulse that shows every level and edge clearly:
// 800 V, 20 A, 20 ns ramps, 20 nH, no recovery, no ringing, no noise.
func Example() DoublePulse {
	return DoublePulse{
		V: 800, I: 20, LLoad: 140e-6, LLoop: 20e-9,
		OnTi: 20e-9, OnTv: 20e-9, OffTv: 20e-9, OffTi: 20e-9,
		VLow: -4, VHigh: 15, GateRamp: 30e-9, DelayOn: 15e-9, DelayOff: 25e-9,
		Pulses: 2, Gap: 2e-6, Width: 1.5e-6, Tail: 1e-6,
	}
}

// edge is one commutation of the shot.
type edge struct {
	on      bool
	pulse   int
	command float64 // the gate's first move [s]
	move    float64 // current's first move at turn-on, voltage's at turn-off [s]
	meet    float64 // between the two ramps: peak of i, or v at the bus [s]
	end     float64 // end of the second ramp [s]
}

// signals are the noiseless signals before any lag, and the load current.
type signals struct {
	v, i, load, gate Piecewise
	edges            []edge
}

// build lays out the shot edge by edge.
func (d DoublePulse) build() *signals {
	if d.Tb > d.OnTv || d.Pulses < 1 || d.LLoop >= d.LLoad {
		panic("wavetest: DoublePulse needs Tb ≤ OnTv, Pulses ≥ 1 and LLoop < LLoad")
	}
	s := &signals{}
	inf := math.Inf(-1)
	s.v.Add(inf, d.V)
	s.i.Add(inf, 0)
	s.load.Add(inf, 0)
	s.gate.Add(inf, d.VLow)
	t := 0.0
	for p := 1; p <= d.Pulses; p++ {
		on := d.turnOn(s, t, p)
		off := t + d.Width
		if p == 1 {
			// The load starts from zero and must stand at I when v rises.
			off = on.end + (d.I-s.load.At(on.end))*d.LLoad/d.V - d.DelayOff
		}
		end := d.turnOff(s, off, p)
		t = off + d.Gap
		if end.move < on.end || t < end.end {
			panic("wavetest: the edges of DoublePulse overlap; make Gap, Width or I larger")
		}
	}
	return s
}

func (d DoublePulse) turnOn(s *signals, command float64, pulse int) edge {
	a := command + d.DelayOn
	e := edge{on: true, pulse: pulse, command: command, move: a, meet: a}
	load := s.load.At(a)
	s.gate.Add(command, d.VLow, (d.VHigh-d.VLow)/d.GateRamp)
	s.gate.Add(command+d.GateRamp, d.VHigh)
	over := 0.0
	if load > 0 {
		// The dip LLoop·di/dt lets the load ramp by the share r of di/dt.
		r := d.LLoop / d.LLoad
		slope := load / (1 - r) / d.OnTi
		over = d.Irrm
		e.meet = a + d.OnTi + over/(slope*(1-r))
		s.v.Add(a, d.V-d.LLoop*slope)
		s.i.Add(a, 0, slope)
		s.load.Add(a, load, r*slope)
		load += r * slope * (e.meet - a)
	}
	e.end = e.meet + d.OnTv
	bend := d.V / d.OnTv / (2 * d.LLoad)
	s.v.Add(e.meet, d.V, -d.V/d.OnTv)
	s.load.Add(e.meet, load, 0, bend)
	from := e.meet
	if over > 0 {
		s.i.Add(from, load+over, -over/d.Tb, bend)
		from += d.Tb
	}
	x := from - e.meet
	s.i.Add(from, load+bend*x*x, 2*bend*x, bend)
	load += bend * d.OnTv * d.OnTv
	s.v.Add(e.end, 0)
	s.load.Add(e.end, load, d.V/d.LLoad)
	s.i.Add(e.end, load, d.V/d.LLoad)
	s.edges = append(s.edges, e)
	return e
}

func (d DoublePulse) turnOff(s *signals, command float64, pulse int) edge {
	a := command + d.DelayOff
	e := edge{pulse: pulse, command: command, move: a, meet: a + d.OffTv, end: a + d.OffTv + d.OffTi}
	load := s.load.At(a)
	s.gate.Add(command, d.VHigh, (d.VLow-d.VHigh)/d.GateRamp)
	s.gate.Add(command+d.GateRamp, d.VLow)
	ramp := []float64{load, d.V / d.LLoad, -d.V / d.OffTv / (2 * d.LLoad)}
	s.v.Add(a, 0, d.V/d.OffTv)
	s.i.Add(a, ramp...)
	s.load.Add(a, ramp...)
	load = horner(ramp, d.OffTv)
	slope := load / d.OffTi
	s.v.Add(e.meet, d.V+d.LLoop*slope)
	s.i.Add(e.meet, load, -slope)
	s.load.Add(e.meet, load, -slope*d.LLoop/d.LLoad)
	s.v.Add(e.end, d.V)
	s.i.Add(e.end, 0)
	s.load.Add(e.end, load*(1-d.LLoop/d.LLoad))
	s.edges = append(s.edges, e)
	return e
}

// ringing returns the ring of the last edge of that kind before t, until the
// next edge begins.
func (s *signals) ringing(r Ring, after func(edge) bool, t float64) float64 {
	for k := len(s.edges) - 1; k >= 0; k-- {
		e := s.edges[k]
		if t < e.move {
			continue
		}
		if !after(e) {
			return 0
		}
		r.Start = e.end
		return r.At(t)
	}
	return 0
}

// Capture samples the shot from t0 on, at interval dt, to Tail after the last
// edge: traces "Vds" and "Id", and "Vgs" unless NoGate.
func (d DoublePulse) Capture(dt, t0 float64) *waveform.Capture {
	s := d.build()
	n := int((s.edges[len(s.edges)-1].end+d.Tail-t0)/dt) + 1
	v := func(t float64) float64 {
		return s.v.At(t) + s.ringing(d.RingV, func(e edge) bool { return !e.on }, t)
	}
	i := func(t float64) float64 {
		return s.i.At(t) + s.ringing(d.RingI, func(e edge) bool { return e.on }, t)
	}
	c := &waveform.Capture{Name: "ideal", Layout: "ideal", Segments: 1}
	add := func(f func(float64) float64, ch Channel, name, unit string, seed uint64) {
		lagged := func(t float64) float64 { return f(t-ch.Lag) + ch.Offset }
		tr := Sample(lagged, name, unit, t0, dt, n)
		if ch.Noise > 0 {
			AddNoise(tr, ch.Noise, seed)
		}
		if ch.Bits > 0 {
			Quantise(tr, ch.Bits, ch.Range)
		}
		c.Traces = append(c.Traces, tr)
	}
	add(v, d.ChV, "Vds", "V", 3*d.Seed)
	add(i, d.ChI, "Id", "A", 3*d.Seed+1)
	if !d.NoGate {
		add(s.gate.At, d.ChG, "Vgs", "V", 3*d.Seed+2)
	}
	if d.Partner {
		d.partner(s, add)
	}
	return c
}

// partner adds the freewheeling device by Kirchhoff's laws: its voltage is what the bus
// has left of v and L·di/dt, its current what the load has left of i. Its gate is on in
// the gaps between two pulses but for Dead.
func (d DoublePulse) partner(s *signals, add func(f func(float64) float64, ch Channel, name, unit string, seed uint64)) {
	const h = 1e-13 // over which a straight line is straight
	didt := func(t float64) float64 { return (s.i.At(t+h) - s.i.At(t-h)) / (2 * h) }
	add(func(t float64) float64 { return d.V - s.v.At(t) - d.LLoop*didt(t) }, d.ChVO, "V_other", "V", 3*d.Seed+10)
	add(func(t float64) float64 { return s.load.At(t) - s.i.At(t) }, d.ChIO, "I_other", "A", 3*d.Seed+11)
	var gate Piecewise
	gate.Add(math.Inf(-1), d.VLow)
	for k := 1; k+1 < len(s.edges); k += 2 {
		on, off := s.edges[k].command+d.Dead, s.edges[k+1].command-d.Dead
		gate.Add(on, d.VLow, (d.VHigh-d.VLow)/d.GateRamp)
		gate.Add(on+d.GateRamp, d.VHigh)
		gate.Add(off, d.VHigh, (d.VLow-d.VHigh)/d.GateRamp)
		gate.Add(off+d.GateRamp, d.VLow)
	}
	add(gate.At, d.ChGO, "Vgs_other", "V", 3*d.Seed+12)
}

package model

import "math"

// The state of the circuit.
const (
	xBus  = iota // voltage of the bus capacitor [V]
	xLoop        // current in LLoop [A]
	xV           // drain-source voltage of the device under test [V]
	xD           // reverse voltage of the partner [V]
	xLoad        // load current [A]
	xG           // gate-source voltage inside the device [V]
	xQ           // charge stored in the partner [C]
	xTail        // current of the bipolar part of the device [A]
	states
)

type state [states]float64

// scale is what one relative unit of error means for each state.
var scale = state{xBus: 1, xLoop: 0.1, xV: 1, xD: 1, xLoad: 0.1, xG: 0.1, xQ: 1e-9, xTail: 0.1}

// knee is how softly the partner begins to conduct [V].
const knee = 0.15

// circuit is a shot with its commands, ready to be solved.
type circuit struct {
	Shot
	commands []Command
}

// drive returns the driver's voltage and the external gate resistor at t.
func (c *circuit) drive(t float64) (v, r float64) {
	x := 0.0 // 0 off, 1 on
	for _, k := range c.commands {
		if t <= k.T {
			break
		}
		step := smoothstep((t - k.T) / c.Driver)
		if !k.On {
			step = -step
		}
		x += step
	}
	return c.VgsOff + x*(c.VgsOn-c.VgsOff), c.RgOff + x*(c.RgOn-c.RgOff)
}

// loop returns the voltage across LLoop.
func (c *circuit) loop(x *state) float64 {
	return x[xBus] - c.RLoop*x[xLoop] - x[xD] - x[xV]
}

// gate returns the gate current and the voltage between the gate's terminals.
// The shared source inductance lies inside them, so it is seen as well.
func (c *circuit) gate(t float64, x *state) (i, v float64) {
	drive, r := c.drive(t)
	shared := c.Device.Lcs / c.LLoop * c.loop(x)
	i = (drive - x[xG] - shared) / (r + c.Device.Rgi)
	return i, drive - r*i
}

// drain returns the current through the sense point: LLoop and RDamp together.
func (c *circuit) drain(x *state) float64 { return x[xLoop] + c.loop(x)/c.RDamp }

// slope returns dx/dt.
func (c *circuit) slope(t float64, x *state) (dx state) {
	id := c.drain(x)
	dx[xBus] = -id / c.CBus
	dx[xLoop] = c.loop(x) / c.LLoop
	dx[xLoad] = x[xD] / c.LLoad

	d := c.Partner
	qe := d.Charge * softplus(-x[xD]-d.Vf, knee)
	forward := (qe - x[xQ]) / d.Transit
	dx[xQ] = forward - x[xQ]/d.Lifetime
	dx[xD] = (id - x[xLoad] + forward) / (junction(d.Cj, x[xD], d.Vj) + c.CLoad)

	// Gate and drain nodes share Cgd: two equations for two slopes.
	m := c.Device
	cgd := m.Cgd * math.Pow(1+max(x[xV], 0)/m.VjG, -0.9)
	cg, cd := m.Cgs+cgd, junction(m.Cds, x[xV], m.Vj)+cgd
	ig, _ := c.gate(t, x)
	channel := m.channel(x[xG], x[xV])
	if m.Gain > 0 {
		dx[xTail] = (m.Gain*channel - x[xTail]) / m.Tail
	}
	rest := id - channel - x[xTail]*forced(x[xV])
	det := cg*cd - cgd*cgd
	dx[xG] = (cd*ig + cgd*rest) / det
	dx[xV] = (cgd*ig + cg*rest) / det
	return dx
}

// channel returns the current of the channel [A].
func (m Device) channel(vgs, vds float64) float64 {
	u := softplus(vgs-m.Vth, 0.25)
	if u < 1e-9 {
		return 0
	}
	sat := m.K * u * u / (1 + m.Theta*u)
	x := vds / (sat * (m.R0 + 1/(m.G*u)))
	return sat * x / math.Sqrt(1+x*x)
}

// forced is how much of the bipolar part's current flows at a voltage: all of it
// from a few volts on, none at zero.
func forced(v float64) float64 { return max(v, 0) / math.Sqrt(1+v*v) }

// junction returns the capacitance of an abrupt junction at reverse voltage v.
func junction(c0, v, vj float64) float64 { return c0 / math.Sqrt(1+max(v, 0)/vj) }

// softplus is max(x, 0) with its corner rounded over a few w.
func softplus(x, w float64) float64 {
	if x > 30*w {
		return x
	}
	return w * math.Log1p(math.Exp(x/w))
}

// smoothstep goes from 0 to 1 over 0 ≤ x ≤ 1 with two continuous derivatives.
func smoothstep(x float64) float64 {
	x = min(max(x, 0), 1)
	return x * x * x * (10 + x*(6*x-15))
}

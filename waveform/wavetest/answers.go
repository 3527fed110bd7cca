package wavetest

import "math"

// Event is an edge of a DoublePulse: when v passes half the bus.
type Event struct {
	On    bool
	Pulse int // from 1
	T     float64
}

// Answers are the exact answers of a DoublePulse by their keys, SI units:
// v_bus_off, i_off, t_rise_v, e_off.v10-i2 and so on. They hold for the record
// with its lags, and without ringing (but in v_peak), offset, noise and
// quantisation. A key that the shot has no edge for is absent; a window whose
// end comes before its start is NaN.
type Answers struct {
	Events []Event
	Values map[string]float64
}

// Limit is one end of an energy window: signal 'v', 'i' or 'g' at the
// fraction Level of its base.
type Limit struct {
	Signal byte
	Level  float64
}

type window struct {
	name       string
	start, end Limit
}

var offWindows = [...]window{
	{"v10-i2", Limit{'v', 0.10}, Limit{'i', 0.02}},
	{"v10-i10", Limit{'v', 0.10}, Limit{'i', 0.10}},
	{"v5-i5", Limit{'v', 0.05}, Limit{'i', 0.05}},
	{"g90-i2", Limit{'g', 0.90}, Limit{'i', 0.02}},
}

var onWindows = [...]window{
	{"i10-v2", Limit{'i', 0.10}, Limit{'v', 0.02}},
	{"i10-v10", Limit{'i', 0.10}, Limit{'v', 0.10}},
	{"i10-v5", Limit{'i', 0.10}, Limit{'v', 0.05}},
	{"i5-v5", Limit{'i', 0.05}, Limit{'v', 0.05}},
	{"g10-v2", Limit{'g', 0.10}, Limit{'v', 0.02}},
}

// Answers returns the exact answers for the turn-off of pulse off and the
// turn-on of pulse on, each numbered from 1. The turn-on of pulse 1, which
// carries no current, has none.
func (d DoublePulse) Answers(off, on int) Answers {
	s := d.build()
	a := Answers{Values: map[string]float64{
		"vgs_high": d.VHigh, "vgs_low": d.VLow, "vgs_max": d.VHigh, "vgs_min": d.VLow,
		"l_load": d.LLoad, "load_bend": 0,
	}}
	g := reader{
		d: d, edges: s.edges, gate: s.gate.Shift(d.ChG.Lag),
		v: s.v.Shift(d.ChV.Lag), i: s.i.Shift(d.ChI.Lag), load: s.load.Shift(d.ChI.Lag),
	}
	for k, e := range s.edges {
		from, to := g.around(k)
		a.Events = append(a.Events, Event{e.on, e.pulse, g.v.Crossing(d.V/2, !e.on, from, to)})
		if !e.on && e.pulse == off {
			g.off(k, a.Values)
		}
		if e.on && e.pulse == on && e.pulse > 1 {
			g.on(k, a.Values)
		}
	}
	return a
}

// reader reads answers off the exact signals of one record.
type reader struct {
	d                DoublePulse
	edges            []edge
	v, i, load, gate Piecewise
	iBase            float64 // load current of the edge in hand [A]
	from, to         float64 // where its crossings are looked for [s]
	rising           map[byte]bool
}

// around returns from before edge k to before the next one, all lags included.
func (g *reader) around(k int) (from, to float64) {
	early := min(g.d.ChV.Lag, g.d.ChI.Lag, g.d.ChG.Lag)
	to = g.edges[k].end + 1 // [s]; far beyond every record
	if k+1 < len(g.edges) {
		to = g.edges[k+1].command + early
	}
	return g.edges[k].command + early, to
}

// cross returns when a signal first passes the limit.
func (g *reader) cross(l Limit) float64 {
	switch l.Signal {
	case 'v':
		return g.v.Crossing(l.Level*g.d.V, g.rising['v'], g.from, g.to)
	case 'i':
		return g.i.Crossing(l.Level*g.iBase, g.rising['i'], g.from, g.to)
	}
	return g.gate.Crossing(g.d.VLow+l.Level*(g.d.VHigh-g.d.VLow), g.rising['g'], g.from, g.to)
}

func (g *reader) energy(w window) float64 {
	from, to := g.cross(w.start), g.cross(w.end)
	if !(to >= from) {
		return math.NaN()
	}
	return g.v.Integral(g.i, from, to)
}

func (g *reader) off(k int, a map[string]float64) {
	g.from, g.to = g.around(k)
	g.rising = map[byte]bool{'v': true, 'i': false, 'g': false}
	e := g.edges[k]
	// The load's ramp, as it stands in the record when v begins to rise, goes on
	// with (V - v)/LLoad until v is at half: V/LLoad·(½OffTv - ⅛OffTv).
	start := e.move + g.d.ChI.Lag
	g.iBase = g.load.At(start) + g.d.V/g.d.LLoad*(g.d.ChV.Lag-g.d.ChI.Lag+g.d.OffTv*3/8)
	v10, v90 := g.cross(Limit{'v', 0.1}), g.cross(Limit{'v', 0.9})
	i90, i10 := g.cross(Limit{'i', 0.9}), g.cross(Limit{'i', 0.1})
	a["v_bus_off"], a["i_off"] = g.d.V, g.iBase
	a["td_off"] = v10 - g.cross(Limit{'g', 0.9})
	a["t_off"] = v90 - g.cross(Limit{'g', 0.9})
	a["t_rise_v"], a["t_fall_i"] = v90-v10, i10-i90
	a["dvdt_off"], a["didt_off"] = 0.8*g.d.V/(v90-v10), 0.8*g.iBase/(i10-i90)
	_, ring := g.d.RingV.Peak(0)
	a["v_peak"] = max(g.v.Max(g.from, e.end+g.d.ChV.Lag), g.d.V+ring)
	a["v_overshoot"] = a["v_peak"]/g.d.V - 1
	for _, w := range offWindows {
		a["e_off."+w.name] = g.energy(w)
	}
}

func (g *reader) on(k int, a map[string]float64) {
	g.from, g.to = g.around(k)
	g.rising = map[byte]bool{'v': false, 'i': true, 'g': true}
	e, r := g.edges[k], g.d.LLoop/g.d.LLoad
	// The load ramps by r·i while i rises; at the instant of i = iBase/2 it is
	// iBase = load + r·iBase/2.
	g.iBase = g.load.At(e.move+g.d.ChI.Lag) / (1 - r/2)
	v90, v10 := g.cross(Limit{'v', 0.9}), g.cross(Limit{'v', 0.1})
	i10, i90 := g.cross(Limit{'i', 0.1}), g.cross(Limit{'i', 0.9})
	a["v_bus_on"], a["i_on"] = g.d.V, g.iBase
	a["td_on"] = v90 - g.cross(Limit{'g', 0.1})
	a["t_on"] = v10 - g.cross(Limit{'g', 0.1})
	a["t_rise_i"], a["t_fall_v"] = i90-i10, v10-v90
	a["t_fall_v.after-i90"] = 0.8 * g.d.OnTv
	a["didt_on"], a["dvdt_on"] = 0.8*g.iBase/(i90-i10), 0.8*g.d.V/(v10-v90)
	a["dvdt_on.after-i90"] = g.d.V / g.d.OnTv
	back := e.meet + g.d.ChI.Lag
	if g.d.Irrm > 0 {
		back += g.d.Tb
	}
	a["i_peak"] = g.i.Max(i90, max(v10, back))
	a["i_overshoot"] = a["i_peak"]/g.iBase - 1
	for _, w := range onWindows {
		a["e_on."+w.name] = g.energy(w)
	}
}

package model

import "slewbook/waveform"

// Waveforms are the signals of a shot as functions of time, continuous with
// their first derivative, so that they can be sampled at any interval.
type Waveforms struct {
	Name     string
	V, I, Vg func(t float64) float64 // at the sense points [V], [A], [V]
	Load     func(t float64) float64 // load current [A]
	VOther   func(t float64) float64 // of the partner, positive where it blocks [V]
	IOther   func(t float64) float64 // and where it carries the load, its capacitance and that of the load's winding in it [A]
	Commands []Command
	LLoad    float64                 // [H]
	Span     waveform.Interval       // of the record [s]
	Bus      func(t float64) float64 // behind the loop inductance [V]
	Bipolar  bool                    // an IGBT, whose delays are told by the current
}

// Waveforms solves the circuit. It takes some tenths of a second.
func (s Shot) Waveforms() *Waveforms { return s.waveforms(relative) }

func (s Shot) waveforms(relative float64) *Waveforms {
	c := &circuit{Shot: s, commands: s.Commands()}
	span := waveform.Interval{From: -s.Before, To: c.commands[len(c.commands)-1].T + s.After}
	x := newSolution(c.solve(span.From, span.To, relative))
	drain := func(t float64) float64 {
		x := x.at(t, xBus, xLoop, xD, xV)
		return c.drain(&x)
	}
	load := func(t float64) float64 { return x.at(t, xLoad)[xLoad] }
	return &Waveforms{
		Name: s.Name, Commands: c.commands, LLoad: s.LLoad, Span: span, Bipolar: s.Device.Gain > 0,
		V:    func(t float64) float64 { return x.at(t, xV)[xV] },
		Load: load,
		Bus:  func(t float64) float64 { return x.at(t, xBus)[xBus] },
		I:    drain,
		// By Kirchhoff's laws, as the sense points of the partner have them.
		VOther: func(t float64) float64 { return x.at(t, xD)[xD] },
		IOther: func(t float64) float64 { return load(t) - drain(t) },
		Vg: func(t float64) float64 {
			x := x.at(t, xBus, xLoop, xD, xV, xG)
			_, v := c.gate(t, &x)
			return v
		},
	}
}

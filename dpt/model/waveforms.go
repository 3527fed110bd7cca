package model

import "slewbook/waveform"

// Waveforms are the signals of a shot as functions of time, continuous with
// their first derivative, so that they can be sampled at any interval.
type Waveforms struct {
	Name     string
	V, I, Vg func(t float64) float64 // at the sense points [V], [A], [V]
	Load     func(t float64) float64 // load current [A]
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
	return &Waveforms{
		Name: s.Name, Commands: c.commands, LLoad: s.LLoad, Span: span, Bipolar: s.Device.Gain > 0,
		V:    func(t float64) float64 { return x.at(t, xV)[xV] },
		Load: func(t float64) float64 { return x.at(t, xLoad)[xLoad] },
		Bus:  func(t float64) float64 { return x.at(t, xBus)[xBus] },
		I: func(t float64) float64 {
			x := x.at(t, xBus, xLoop, xD, xV)
			return c.drain(&x)
		},
		Vg: func(t float64) float64 {
			x := x.at(t, xBus, xLoop, xD, xV, xG)
			_, v := c.gate(t, &x)
			return v
		},
	}
}

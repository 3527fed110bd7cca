// Package model is the one generator of waveforms of the project: a half
// bridge under double pulses, solved as a small circuit, and the instrument
// that records it. It knows the answers that a measurement should find, by
// bisection and dense quadrature on the continuous waveforms. It shares no
// code with the measuring packages, and they must not import it.
//
// All devices and figures in it are invented.
package model

// Shot is one double pulse on a half bridge whose lower device is under test.
// The load inductor lies across the upper device, which freewheels. Everything
// is in SI base units. The first command comes at t = 0.
type Shot struct {
	Name   string  // slash path of the capture
	Vbus   float64 // bus voltage before the shot [V]
	I      float64 // load current aimed at for the first turn-off [A]
	LLoad  float64 // load inductance [H]
	CLoad  float64 // its winding capacitance [F]
	LLoop  float64 // loop inductance outside the sense points [H]
	RLoop  float64 // resistance in series with it [Ω]
	RDamp  float64 // parallel to LLoop: stands for the losses at the ringing frequency [Ω]
	CBus   float64 // bus capacitor [F]
	RgOn   float64 // external gate resistors [Ω]
	RgOff  float64
	VgsOn  float64 // driver levels [V]
	VgsOff float64
	Driver float64 // duration of the driver's own edge [s]
	Pulses int     // number of pulses
	First  float64 // width of the first pulse [s]; 0 for as long as the load needs to reach I
	Gap    float64 // from a command to turn off to the next to turn on [s]
	Width  float64 // width of each pulse after the first [s]
	Before float64 // record before the first command [s]
	After  float64 // record after the last command [s]
	Tj     float64 // junction temperature, for the record only [K]

	Device  Device  // under test
	Partner Partner // freewheeling
}

// Device is a MOSFET of an invented kind. The channel carries
// Isat·x/√(1 + x²) with x = v_ds/(Isat·R), Isat = K·u²/(1 + Theta·u),
// R = R0 + 1/(G·u) and u the gate overdrive with a soft threshold.
type Device struct {
	Vth   float64 // threshold [V]
	K     float64 // [A/V²]
	Theta float64 // [1/V]
	R0    float64 // [Ω]
	G     float64 // [S/V]
	Rgi   float64 // internal gate resistance [Ω]
	Cgs   float64 // [F]
	Cgd   float64 // at 0 V, falls as (1 + v/VjGate)^-0.9 [F]
	Vj    float64 // junction potential of Cds [V]
	VjG   float64 // and of Cgd [V]
	Cds   float64 // at 0 V, falls as (1 + v/Vj)^-½ [F]
	Lcs   float64 // source inductance that the gate loop shares [H]

	// A bipolar device: its channel feeds a base whose charge carries Gain times
	// the channel's current and goes with Tail when the channel is off.
	Gain float64 // 0 for a MOSFET
	Tail float64 // [s]
}

// Partner is the freewheeling device: a diode of the charge-control kind
// (Lauritzen and Ma, IEEE Trans. Power Electronics 6, 1991, from memory) with
// a straight line in place of the exponential junction law:
//
//	i = (qE - qM)/Transit, dqM/dt = i - qM/Lifetime, qE = Charge·(v - Vf)⁺
//
// and a junction capacitance of the same law as Device.Cds.
type Partner struct {
	Vf       float64 // knee voltage [V]
	Charge   float64 // [C/V]
	Lifetime float64 // of the stored charge [s]
	Transit  float64 // of its extraction: sets the tail [s]
	Cj       float64 // at 0 V [F]
	Vj       float64 // [V]
}

// Demo returns a shot of the invented module of the demo, 1.2 kV and 100 A, at
// a bus voltage [V] and a load current [A].
func Demo(vbus, current float64) Shot {
	return Shot{
		Vbus: vbus, I: current,
		LLoad: 40e-6, CLoad: 40e-12, LLoop: 12e-9, RLoop: 4e-3, RDamp: 80, CBus: 200e-6,
		RgOn: 6.8, RgOff: 2.2, VgsOn: 18, VgsOff: -4, Driver: 6e-9,
		Pulses: 2, Gap: 1.5e-6, Width: 1.2e-6, Before: 1e-6, After: 1e-6, Tj: 298.15,
		Device: Device{
			Vth: 4.5, K: 6, Theta: 0.1, R0: 6e-3, G: 12,
			Rgi: 1.5, Cgs: 8e-9, Cgd: 0.6e-9, Vj: 5, VjG: 10, Cds: 2.5e-9, Lcs: 0.15e-9,
		},
		Partner: Partner{Vf: 2.5, Charge: 0.7e-6, Lifetime: 14e-9, Transit: 6e-9, Cj: 2.5e-9, Vj: 5},
	}
}

// Command is one move of the gate driver.
type Command struct {
	On    bool
	Pulse int     // from 1
	T     float64 // when the driver begins to move [s]
}

// Commands returns the driver's commands. Unless First is given, the first pulse
// is as long as the load needs to reach I.
func (s Shot) Commands() []Command {
	var c []Command
	width, t := s.I*s.LLoad/s.Vbus, 0.0
	if s.First > 0 {
		width = s.First
	}
	for p := 1; p <= s.Pulses; p++ {
		c = append(c, Command{true, p, t}, Command{false, p, t + width})
		t += width + s.Gap
		width = s.Width
	}
	return c
}

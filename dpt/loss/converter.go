// Package loss works out what the switches of a converter lose, from switching
// energies that a double-pulse test has given (dpt/curve's grids) and conduction
// data: half bridge with a direct current, buck, boost, and three-phase two-level
// with sinusoidal PWM; with the junction temperature that the losses themselves
// make.
//
// A double-pulse test leaves things out, and a converter's losses are not the sum
// of what it gives; LeftOut says what.
package loss

import (
	"errors"
	"fmt"
	"math"
)

// Kind is a use of the switches.
type Kind string

// The kinds.
const (
	HalfBridge Kind = "half-bridge" // one switch of the leg hard-switches a direct current, the other side freewheels
	Buck       Kind = "buck"
	Boost      Kind = "boost"
	ThreePhase Kind = "three-phase" // two levels, sinusoidal PWM, six positions alike
)

// Kinds lists them.
var Kinds = []Kind{HalfBridge, Buck, Boost, ThreePhase}

// Converter is what the losses are worked out for, in SI base units. NaN is what
// is not given.
type Converter struct {
	Kind Kind
	Fsw  []float64 // switching frequencies [Hz]

	// Half bridge and three-phase.
	V    float64 // bus voltage [V]
	I    float64 // load current: mean of the half bridge, rms of a phase [A]
	Duty float64 // of the half bridge's hard-switching side [1]

	// Buck and boost.
	Vin, Vout float64 // [V]
	Iout      float64 // [A]

	L float64 // inductor; of three-phase that of a phase, in a star without a neutral [H]; NaN leaves the ripple out

	// Three-phase.
	M      float64 // modulation index: peak of the phase voltage over half the bus [1]
	CosPhi float64 // displacement factor of the phase current [1]
	Fout   float64 // output frequency [Hz]

	Synchronous bool    // the freewheeling side conducts through its channel
	Dead        float64 // dead time at each edge, with Synchronous [s]
	RgOn, RgOff float64 // external gate resistors [ohm]; NaN for those of the grids

	Transistor, Diode Device
	NoRecovery        bool // the freewheeling device has no recovery loss: it is no pn diode
	Cooling           Cooling
}

// Device is a transistor or a freewheeling diode.
type Device struct {
	On   Characteristic // nil where it is not given
	OnU  float64        // relative standard uncertainty of On [1]
	Rth  float64        // from junction to the common sink, what lies between included [K/W]
	RthU float64        // its relative standard uncertainty [1]

	QGate, VGate float64 // gate charge [C] and swing of the gate [V]
}

// Cooling says what holds the temperature: one of Tj, TSink, and TAmbient with
// RthSink.
type Cooling struct {
	Tj       float64 // junction temperature, the same for all dies, whatever they lose [K]
	TSink    float64 // temperature of the sink that all dies share [K]
	TAmbient float64 // [K]
	RthSink  float64 // from that sink to ambient [K/W]
	RthSinkU float64 // its relative standard uncertainty [1]
	TjMax    float64 // largest junction temperature that is wanted [K]
}

// New returns a converter of which nothing is given.
func New() Converter {
	nan := math.NaN()
	none := Device{OnU: nan, Rth: nan, RthU: nan, QGate: nan, VGate: nan}
	return Converter{V: nan, I: nan, Duty: nan, Vin: nan, Vout: nan, Iout: nan, L: nan, M: nan, CosPhi: nan, Fout: nan, Dead: nan, RgOn: nan, RgOff: nan,
		Transistor: none, Diode: none, Cooling: Cooling{Tj: nan, TSink: nan, TAmbient: nan, RthSink: nan, RthSinkU: nan, TjMax: nan}}
}

// field is a number of the file with what it may be.
type field struct {
	key      string
	value    float64
	bound    func(float64) bool
	expected string
}

func positive(x float64) bool    { return x > 0 && !math.IsInf(x, 0) }
func notNegative(x float64) bool { return x >= 0 && !math.IsInf(x, 0) }
func ratio(x float64) bool       { return x > 0 && x < 1 }
func share(x float64) bool       { return x >= 0 && x <= 1 }

// Validate tells what is missing, impossible or does not belong, all of it at once.
func (c *Converter) Validate() error {
	var errs []error
	fail := func(format string, args ...any) { errs = append(errs, fmt.Errorf(format, args...)) }
	needed, known := c.fields()
	if !known {
		return fmt.Errorf("converter.kind is %q; expected one of %v", c.Kind, Kinds)
	}
	if len(c.Fsw) == 0 {
		fail("converter.f_sw is missing: at which switching frequencies?")
	}
	for _, f := range c.Fsw {
		if !positive(f) {
			fail("converter.f_sw holds %g Hz; expected more than zero", f)
		}
	}
	for _, f := range needed {
		if math.IsNaN(f.value) {
			fail("%s is missing; a %s needs it", f.key, c.Kind)
		}
	}
	for _, f := range append(needed, c.others()...) {
		if !math.IsNaN(f.value) && !f.bound(f.value) {
			fail("%s is %g; expected %s", f.key, f.value, f.expected)
		}
	}
	for _, f := range c.foreign() {
		if !math.IsNaN(f.value) {
			fail("%s is given, but a %s has none", f.key, c.Kind)
		}
	}
	errs = append(errs, c.related()...)
	return errors.Join(errs...)
}

// fields lists what the kind needs.
func (c *Converter) fields() ([]field, bool) {
	v, i := field{"converter.v_bus", c.V, positive, "more than zero"}, field{"converter.i", c.I, positive, "more than zero"}
	vin, vout, iout := field{"converter.v_in", c.Vin, positive, "more than zero"}, field{"converter.v_out", c.Vout, positive, "more than zero"}, field{"converter.i_out", c.Iout, positive, "more than zero"}
	switch c.Kind {
	case HalfBridge:
		return []field{v, i, {"converter.duty", c.Duty, ratio, "between 0 and 100 %"}}, true
	case Buck, Boost:
		return []field{vin, vout, iout}, true
	case ThreePhase:
		return []field{v, i, {"converter.m", c.M, share, "0 to 1, the linear range of sinusoidal PWM"},
			{"converter.cos_phi", c.CosPhi, func(x float64) bool { return x >= -1 && x <= 1 }, "-1 to 1"}, {"converter.f_out", c.Fout, positive, "more than zero"}}, true
	}
	return nil, false
}

// foreign lists what belongs to other kinds only.
func (c *Converter) foreign() []field {
	direct := []field{{key: "converter.v_in", value: c.Vin}, {key: "converter.v_out", value: c.Vout}, {key: "converter.i_out", value: c.Iout}}
	bus := []field{{key: "converter.v_bus", value: c.V}, {key: "converter.i", value: c.I}}
	duty := field{key: "converter.duty", value: c.Duty}
	sine := []field{{key: "converter.m", value: c.M}, {key: "converter.cos_phi", value: c.CosPhi}, {key: "converter.f_out", value: c.Fout}}
	switch c.Kind {
	case HalfBridge:
		return append(direct, sine...)
	case ThreePhase:
		return append(direct, duty)
	}
	return append(append(bus, sine...), duty)
}

// others lists what any kind may have.
func (c *Converter) others() []field {
	more := "more than zero"
	u := func(x float64) bool { return x >= 0 && x < 1 }
	out := []field{{"converter.l", c.L, positive, more}, {"converter.rg_on", c.RgOn, notNegative, "zero or more"}, {"converter.rg_off", c.RgOff, notNegative, "zero or more"},
		{"converter.t_dead", c.Dead, notNegative, "zero or more"},
		{"cooling.t_j", c.Cooling.Tj, positive, "more than 0 K"}, {"cooling.t_sink", c.Cooling.TSink, positive, "more than 0 K"}, {"cooling.t_ambient", c.Cooling.TAmbient, positive, "more than 0 K"},
		{"cooling.r_th", c.Cooling.RthSink, positive, more}, {"cooling.r_th_u", c.Cooling.RthSinkU, u, "0 to 100 %"}, {"cooling.t_j_max", c.Cooling.TjMax, positive, "more than 0 K"}}
	for _, d := range []struct {
		name string
		of   Device
	}{{"transistor", c.Transistor}, {"diode", c.Diode}} {
		out = append(out, field{d.name + ".r_th", d.of.Rth, positive, more}, field{d.name + ".r_th_u", d.of.RthU, u, "0 to 100 %"}, field{d.name + ".u", d.of.OnU, u, "0 to 100 %"},
			field{d.name + ".q_gate", d.of.QGate, positive, more}, field{d.name + ".v_gate", d.of.VGate, positive, more})
	}
	return out
}

// related checks what depends on each other.
func (c *Converter) related() []error {
	var errs []error
	fail := func(format string, args ...any) { errs = append(errs, fmt.Errorf(format, args...)) }
	given := func(x float64) bool { return !math.IsNaN(x) }
	switch {
	case c.Kind == Buck && c.Vout >= c.Vin:
		fail("converter.v_out is %g V, not below v_in = %g V; a buck converter steps down", c.Vout, c.Vin)
	case c.Kind == Boost && c.Vout <= c.Vin:
		fail("converter.v_out is %g V, not above v_in = %g V; a boost converter steps up", c.Vout, c.Vin)
	case c.Kind == ThreePhase:
		for _, f := range c.Fsw {
			if f < 9*c.Fout {
				fail("converter.f_sw is %g Hz, less than nine times f_out = %g Hz; the sums below a sine need more cycles", f, c.Fout)
			}
		}
	}
	if given(c.Dead) && !c.Synchronous {
		fail("converter.t_dead is given without synchronous = true: what does not conduct through its channel has no dead time to speak of")
	}
	free := 1 - c.duty()
	if c.Kind == ThreePhase {
		free = 0.5 // the mean over a sine
	}
	for _, f := range c.Fsw {
		if 2*c.Dead*f > free {
			fail("converter.t_dead of %g s twice a period is longer than the freewheeling time at %g Hz", c.Dead, f)
		}
	}
	k := c.Cooling
	ways := 0
	for _, x := range []float64{k.Tj, k.TSink, k.TAmbient} {
		if given(x) {
			ways++
		}
	}
	if ways != 1 {
		fail("cooling gives %d of t_j, t_sink and t_ambient; expected one of them", ways)
	}
	if given(k.TAmbient) != given(k.RthSink) {
		fail("cooling.t_ambient and cooling.r_th (from sink to ambient) are given without each other")
	}
	if !given(k.Tj) && !given(c.Transistor.Rth) {
		fail("transistor.r_th is missing: the thermal resistance from junction to sink")
	}
	if given(c.Transistor.QGate) != given(c.Transistor.VGate) {
		fail("transistor.q_gate and v_gate are given without each other")
	}
	if given(c.Diode.QGate) || given(c.Diode.VGate) {
		fail("diode.q_gate, v_gate: a diode has no gate")
	}
	for _, d := range []struct {
		name string
		on   Characteristic
	}{{"transistor", c.Transistor.On}, {"diode", c.Diode.On}} {
		if err := d.on.check(); err != nil {
			fail("%s.on: %w", d.name, err)
		}
	}
	return errs
}

// duty returns the share of a period for which the hard-switching side of a leg
// with a direct current conducts, of a converter without loss.
func (c *Converter) duty() float64 {
	switch c.Kind {
	case Buck:
		return c.Vout / c.Vin
	case Boost:
		return 1 - c.Vin/c.Vout
	}
	return c.Duty
}

// bus returns what the leg switches [V].
func (c *Converter) bus() float64 {
	switch c.Kind {
	case Buck:
		return c.Vin
	case Boost:
		return c.Vout
	}
	return c.V
}

// current returns the mean current of the leg's inductor, without loss [A].
func (c *Converter) current() float64 {
	switch c.Kind {
	case Buck:
		return c.Iout
	case Boost:
		return c.Iout * c.Vout / c.Vin
	}
	return c.I
}

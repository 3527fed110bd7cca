// Package plan sizes a double-pulse test before the bench is switched on: pulse
// widths, bus sag, peak voltage, stored energy, heating and what the scope and
// its probes must be able to do, for each point of a test matrix.
//
// It computes; it does not allow. Nothing here says that a set-up is safe: local
// rules and competent persons decide.
package plan

import (
	"errors"
	"fmt"
	"math"
	"slices"
)

// Bench is what the plan is made from, in SI base units. A number that is not
// known is NaN, and what needs it is then not known either.
type Bench struct {
	// Matrix of the points: every voltage with every current and temperature.
	Voltages     []float64 // bus voltage wanted at the edges [V]
	Currents     []float64 // load current wanted at the first turn-off [A]
	Temperatures []float64 // junction temperature [K]; may be empty
	Repeats      int       // shots a point

	// Load inductor.
	L        float64 // inductance [H]
	LSat     float64 // current up to which it holds that [A]
	LR       float64 // resistance [ohm], 0 if not given
	CWinding float64 // capacitance of its winding [F]

	// Bank and supply.
	C      float64 // bus capacitance [F]
	ESR    float64 // [ohm], 0 if not given
	CVMax  float64 // rated voltage of the bank [V]
	Bleed  float64 // bleeder resistor [ohm]
	VTouch float64 // voltage that the bleeder must come down to [V], given by the user
	ISup   float64 // current limit of the supply [A]
	VSup   float64 // largest voltage of the supply [V]
	Rate   float64 // repetition rate of shots [Hz]

	// Loop, device, freewheeling path.
	LLoop float64 // loop inductance outside the sense points [H]
	LPack float64 // inductance of the package, inside the sense points [H]
	VMax  float64 // rated voltage of the device [V]
	IMax  float64 // rated pulse current of the device [A]
	ROn   float64 // on-state resistance [ohm], 0 if not given
	VF    float64 // forward voltage of the freewheeling device [V], 0 if not given
	Zth   float64 // transient thermal impedance at ZthAt [K/W]
	ZthAt float64 // duration that Zth belongs to [s]
	TjMax float64 // rated junction temperature [K]
	Dvdt  float64 // rated voltage slope [V/s]
	Didt  float64 // rated current slope [A/s]

	// Parasitic transistor of the freewheeling device, whose base is its body.
	RBase float64 // resistance of the body to the source [ohm]
	CBase float64 // capacitance from the drain to the body [F]
	VBase float64 // voltage at which it turns on [V]

	// Expected slopes, as magnitudes, and recovery of the freewheeling device.
	DvdtOn, DvdtOff float64 // [V/s]
	DidtOn, DidtOff float64 // [A/s]
	IRrm            float64 // peak reverse recovery current [A]

	// Pulses. Compensate sets the supply so high that the sag leaves the wanted
	// voltage at the edges.
	Gap        float64 // from the first turn-off to the second turn-on [s]
	Width      float64 // of the second pulse [s]
	Before     float64 // record before the first pulse [s]
	After      float64 // record after the last edge [s]
	WidthMin   float64 // shortest pulse that the driver can give [s]
	Settle     float64 // that ringing needs after an edge [s]
	Compensate bool

	// Instrument.
	SampleRate float64 // largest sample rate [1/s]
	Depth      float64 // record memory [samples of a channel]
	V, I       Probe
	Want       float64 // relative error of the energies that is wanted [1]

	// Limits of the plan.
	VShare   float64 // largest share of VMax that the peak may take [1]
	SagMax   float64 // largest sag, relative to the bus [1]
	DriftMax float64 // largest change of the current in gap and second pulse, relative [1]
}

// Probe is a channel with its probe.
type Probe struct {
	Bandwidth float64 // -3 dB of probe and scope together [Hz]
	Range     float64 // full input range, peak to peak [unit]
	Bits      int     // resolution, 0 if not known
}

// Default returns a bench of which nothing is known but the usual choices:
// 80 % of the rated voltage for the peak, 5 % sag, 10 % change of the current, 0.7 V
// for a base.
func Default() Bench {
	nan := math.NaN()
	return Bench{Repeats: 1, L: nan, LSat: nan, CWinding: nan, C: nan, CVMax: nan, Bleed: nan, VTouch: nan, ISup: nan, VSup: nan, Rate: nan,
		LLoop: nan, LPack: nan, VMax: nan, IMax: nan, Zth: nan, ZthAt: nan, TjMax: nan, Dvdt: nan, Didt: nan, RBase: nan, CBase: nan, VBase: 0.7, IRrm: nan, DvdtOn: nan, DvdtOff: nan, DidtOn: nan, DidtOff: nan,
		Gap: nan, Width: nan, Before: 1e-6, After: 1e-6, WidthMin: nan, Settle: nan, Compensate: true,
		SampleRate: nan, Depth: nan, V: Probe{Bandwidth: nan, Range: nan}, I: Probe{Bandwidth: nan, Range: nan}, Want: 0.02,
		VShare: 0.8, SagMax: 0.05, DriftMax: 0.1}
}

// Validate tells what is missing or impossible, all of it at once.
func (b Bench) Validate() error {
	var errs []error
	need := func(ok bool, format string, args ...any) {
		if !ok {
			errs = append(errs, fmt.Errorf(format, args...))
		}
	}
	need(len(b.Voltages) > 0, "plan.v_bus is missing: which bus voltages are to be tested?")
	need(len(b.Currents) > 0, "plan.i is missing: which currents are to be tested?")
	need(b.Repeats >= 1, "plan.repeats is %d; expected 1 or more", b.Repeats)
	for _, x := range []struct {
		key    string
		values []float64
	}{{"plan.v_bus", b.Voltages}, {"plan.i", b.Currents}, {"plan.tj", b.Temperatures}} {
		for k, y := range x.values {
			need(!slices.Contains(x.values[:k], y), "%s holds %g twice; expected each once, and plan.repeats for repeats", x.key, y)
			need(y > 0 && !math.IsInf(y, 0), "%s holds %g; expected more than zero", x.key, y)
		}
	}
	need(!math.IsNaN(b.L), "circuit.l_load is missing: the width of the first pulse is L·I/V")
	need(!math.IsNaN(b.C), "circuit.c_bus is missing: the sag is L·I²/(2·C·V)")
	need(!(b.L <= 0), "circuit.l_load is %g H; expected more than zero", b.L)
	need(!(b.C <= 0), "circuit.c_bus is %g F; expected more than zero", b.C)
	need(!math.IsNaN(b.Gap), "plan.gap is missing: the time from the first turn-off to the second turn-on")
	need(!math.IsNaN(b.Width), "plan.width is missing: the width of the second pulse")
	need(!(b.Gap <= 0), "plan.gap is %g s; expected more than zero", b.Gap)
	need(!(b.Width <= 0), "plan.width is %g s; expected more than zero", b.Width)
	if least := b.OffTime(b.largest()); b.Gap < least {
		errs = append(errs, fmt.Errorf("plan.gap is %.4g ns, but a turn-off of the largest point takes %.4g ns with plan.settle; expected a gap that is longer", b.Gap*1e9, least*1e9))
	}
	return errors.Join(errs...)
}

func (b Bench) largest() (v, i float64) {
	for _, x := range b.Voltages {
		v = max(v, x)
	}
	for _, x := range b.Currents {
		i = max(i, x)
	}
	return v, i
}

// OffTime returns how long a turn-off takes at a voltage and current, from the
// expected slopes, with what its ringing needs to settle [s]. 0 where neither is
// known.
func (b Bench) OffTime(v, i float64) float64 {
	t := 0.0
	for _, x := range []float64{v / b.DvdtOff, i / b.DidtOff, b.Settle} {
		if !math.IsNaN(x) {
			t += x
		}
	}
	return t
}

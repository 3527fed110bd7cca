// Package setup reads the set-up file of the bench: which trace is which
// channel, what is still to be applied to it, and under what conditions the
// shots were taken. It is TOML; every quantity is a string with its unit, such
// as "4.7 ohm". Unknown keys, wrong units and impossible values are errors
// with file and line.
//
// The list of keys in keys.go is the only place that names them: Load and
// Template both follow it.
package setup

import (
	"math"
	"os"

	"slewbook/dpt/plan"
	"slewbook/dpt/result"
	"slewbook/waveform"
)

// Setup is a set-up file's content in SI base units. A number that the file
// does not give is NaN unless its comment says otherwise.
type Setup struct {
	Channel     map[result.Role]Channel // only the roles that the file gives
	File        File
	Device      Device
	Circuit     Circuit
	Insulation  Insulation
	Under       Under
	Energy      Energy
	Definitions Definitions
	Levels      Levels
	Alignment   Alignment
	Baseline    Baseline
	Plan        plan.Bench // what [plan] and the bench around it give; see Bench

	conditions []result.Condition
}

// Channel is one [channel.ROLE].
type Channel struct {
	Source     string  // the trace's name in the file, "" to find it
	Scale      float64 // factor that is still to be applied, default 1
	Stated     bool    // whether the file states the scale
	Invert     bool    // change the sign after scaling, default false
	Offset     float64 // taken off after that [V or A], default 0
	Delay      float64 // the channel lags by this: it reads x(t - Delay) [s], default 0
	Bandwidth  float64 // of probe and scope together [Hz]
	GainU      float64 // standard uncertainty of the gain [1]
	OffsetU    float64 // standard uncertainty of the zero [V or A]
	DelayU     float64 // standard uncertainty of the delay, against vds [s]
	Accuracy   string  // specification of the instrument in words, "" if not given
	GainRef    string  // name of what the gain was calibrated against
	Calibrated string  // date of the calibration
	Due        string  // date of the next one
	Drift      float64 // most that the gain moves between them [1]
	Bits       int     // resolution of the converter, 0 if not given
	Range      float64 // full input range, peak to peak [V or A]; gives resolution and accuracy
	RangeMin   float64 // lower end of the range [V or A]: samples at or below it are over range
	RangeMax   float64 // upper end of the range [V or A], given together with RangeMin
	Filter     string  // zero-phase filter in words, "" for none
	ShuntR     float64 // resistance of the shunt [ohm]
	ShuntL     float64 // its inductance, to be taken out, given together with ShuntR [H]
	Droop      float64 // time constant of the droop, to be taken out [s]
	LInsert    float64 // inductance that the sensor puts into the loop [H]
}

// File is [file]: what the capture files do not tell.
type File struct {
	Interval float64 // between samples, for files that hold no time [s]; 0 if not given
	Start    float64 // time of their first sample [s]
	Separate bool    // every file is a capture of its own
	Pattern  string  // form of the captures' names, "" if they tell nothing
}

// Device is [device]: what is tested, with its static ratings.
type Device struct {
	Kind   string  // "mosfet" or "igbt", default "mosfet"
	Name   string  // type, lot, number; free words
	VMax   float64 // rated drain-source (collector-emitter) voltage [V]
	IMax   float64 // rated drain (collector) current [A]
	RBSOA  string  // corners of the reverse-bias safe operating area in words, "" if not given
	VgsMax float64 // largest static gate voltage [V]
	VgsMin float64 // smallest static gate voltage [V]

	VgsMaxDynamic float64 // largest gate voltage in a transient [V]
	VgsMinDynamic float64 // smallest gate voltage in a transient [V]
	VgsTh         float64 // lowest gate threshold at the temperature of the test [V]
	DvdtMax       float64 // largest voltage slope [V/s]
	DidtMax       float64 // largest current slope [A/s]

	LPackage float64 // inductance between the sense points and the chip [H]

	Coss       string  // curve of the output capacitance in words, "" if not given
	CossEnergy float64 // energy-equivalent output capacitance at the bus voltage [F]
	CossCharge float64 // charge-equivalent output capacitance at the bus voltage [F]
}

// Circuit is [circuit]: what surrounds the device.
type Circuit struct {
	RgOn       float64 // external gate resistor at turn-on [ohm]
	RgOff      float64 // external gate resistor at turn-off [ohm]
	RgInternal float64 // gate resistance inside the device [ohm]
	LLoop      float64 // loop inductance outside the sense points, where it is known [H]
	LLoad      float64 // load inductance [H]
	CBus       float64 // bus capacitance [F]
	VBus       float64 // planned bus voltage [V]
	CRing      float64 // capacitance that the loop rings with after the turn-off [F]
	CAdded     float64 // capacitance added across the device in another shot [F]
	FAdded     float64 // frequency of the ringing in that shot, given together with CAdded [Hz]
	Freewheel  string  // what freewheels: "body diode", "SiC diode", "synchronous"; free words
}

// Insulation is [insulation].
type Insulation struct {
	PDInception float64 // inception voltage of partial discharge, rms at power frequency [V]
}

// Under is [conditions]: under what conditions the shots were taken.
type Under struct {
	Tj       float64          // junction temperature [K]
	Tc       float64          // case temperature [K]
	Date     string           // day of the test
	Position string           // of the device: "low side", "high side"; free words
	Notes    []waveform.Field // [conditions.note] in the order of the file
}

// Energy is [energy]: names of energy windows, "" for the default.
type Energy struct {
	WindowOff string
	WindowOn  string
}

// Definitions is [definitions]: how quantities are read.
type Definitions struct {
	Set      string  // name of a set, "" for none
	Choose   string  // "KEY=NAME, ..." on top of it
	SpanFrom float64 // voltages of the definition "span" [V], 0 for none
	SpanTo   float64
	OnDelay  float64 // when the on-state is read after the turn-on [s], 0 for the default
}

// Levels is [levels].
type Levels struct {
	Method string // how state levels are read: "shorth" or "mode", "" for the default
}

// Alignment is [alignment].
type Alignment struct {
	MatchBandwidth bool // slow the faster one of vds and id to the slower, default false
}

// Baseline is [baseline]: the zero of the current.
type Baseline struct {
	Zero bool    // take it off, default true
	From float64 // quiet interval to read it from [s on the capture's axis]; NaN to find one
	To   float64 // end of that interval [s]
}

// Default returns the set-up of an empty file.
func Default() *Setup {
	nan := math.NaN()
	return &Setup{
		Channel:    map[result.Role]Channel{},
		Device:     Device{Kind: "mosfet", VMax: nan, IMax: nan, VgsMax: nan, VgsMin: nan, VgsMaxDynamic: nan, VgsMinDynamic: nan, VgsTh: nan, DvdtMax: nan, DidtMax: nan, LPackage: nan, CossEnergy: nan, CossCharge: nan},
		Circuit:    Circuit{RgOn: nan, RgOff: nan, RgInternal: nan, LLoop: nan, LLoad: nan, CBus: nan, VBus: nan, CRing: nan, CAdded: nan, FAdded: nan},
		Insulation: Insulation{PDInception: nan},
		Under:      Under{Tj: nan, Tc: nan},
		Baseline:   Baseline{Zero: true, From: nan, To: nan},
		Plan:       plan.Default(),
	}
}

// DefaultChannel returns the channel of an empty [channel.ROLE].
func DefaultChannel() Channel {
	nan := math.NaN()
	return Channel{Scale: 1, Bandwidth: nan, GainU: nan, OffsetU: nan, DelayU: nan, Drift: nan, Range: nan, RangeMin: nan, RangeMax: nan,
		ShuntR: nan, ShuntL: nan, Droop: nan, LInsert: nan}
}

// Conditions returns the test-condition record: what the file gives of device,
// circuit and conditions, in the order of the keys, then the notes.
func (s *Setup) Conditions() []result.Condition { return s.conditions }

// Load reads a set-up file. All that is wrong with it is told at once; each
// error has the form "file:line: key: what; expected what" with the line below.
func Load(path string) (*Setup, error) {
	doc, err := os.ReadFile(path)
	if err != nil {
		return nil, err
	}
	return Parse(path, doc)
}

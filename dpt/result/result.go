// Package result holds what a measurement leaves behind, as plain data: shots,
// events, measurements, definitions and the one list of columns. It computes
// nothing and imports waveform only, so that every renderer can stand on it.
package result

import (
	"fmt"
	"strings"

	"slewbook/waveform"
)

// Schema is the version of the machine-readable output.
const Schema = 1

// Role says what a channel carries. The same roles serve for IGBTs, where
// vds, id, vgs mean vce, ic, vge.
type Role string

// Roles of channels.
const (
	Vds      Role = "vds"       // drain-source voltage of the device under test
	Id       Role = "id"        // its drain current
	Vgs      Role = "vgs"       // its gate-source voltage
	IL       Role = "il"        // load current
	VOther   Role = "v_other"   // voltage of the freewheeling device
	VgsOther Role = "vgs_other" // its gate voltage
	IOther   Role = "i_other"   // its current
	Ig       Role = "ig"        // gate current of the device under test
)

// Roles lists all roles, the main ones first.
var Roles = []Role{Vds, Id, Vgs, IL, VOther, VgsOther, IOther, Ig}

// VdsOn is the on-state voltage alone, behind a clamp.
const VdsOn Role = "vds_on"

// MostBranches is how many parallel devices may have a branch current each.
const MostBranches = 6

// Branch returns the role of the current of the nth of several parallel devices,
// from 1: id_1.
func Branch(n int) Role { return Role(fmt.Sprintf("id_%d", n)) }

// IsBranch tells whether a role, or the end of a key, is that of a branch current.
func IsBranch(name string) bool { return strings.HasPrefix(name, "id_") }

// SetupRoles lists the roles that a set-up alone can give, since nothing in a capture
// tells them from the main ones.
func SetupRoles() []Role {
	roles := []Role{VdsOn}
	for n := 1; n <= MostBranches; n++ {
		roles = append(roles, Branch(n))
	}
	return roles
}

// Unit returns the SI unit that a channel of this role must have.
func (r Role) Unit() string {
	switch r {
	case Id, IL, IOther, Ig:
		return "A"
	}
	if IsBranch(string(r)) {
		return "A"
	}
	return "V"
}

// Edge is one of the two kinds of switching event.
type Edge string

// The two edges.
const (
	TurnOn  Edge = "turn-on"
	TurnOff Edge = "turn-off"
)

// Event is one switching event found in a record.
type Event struct {
	Edge  Edge
	Pulse int     // number of the pulse, from 1; 0 if it is not known
	T     float64 // when v passes half the bus, on the capture's axis [s]
	Basis string  // which signals agreed on it, for people

	Capture string // on whose axis T and the quantities of that edge are, where the shot is joined of two; else ""
}

// Measurement is one quantity of one shot.
type Measurement struct {
	Key        string            // from Columns
	Unit       string            // SI base unit
	Value      float64           // NaN if it could not be read
	U          float64           // standard uncertainty (k = 1) [Unit], NaN until it is computed
	Dominant   string            // what most of U comes from, with its share, "" until it is computed
	Corrected  float64           // what was added to what was read, for bandwidth [Unit]; 0 where nothing was
	Over       waveform.Interval // the interval it was read on; NaN where there is none
	Definition string            // how: name of the window or levels
	PerDelay   float64           // of an energy: its change with a lag of the current, -∫v di [J/s]; else 0
	PerRing    float64           // of an energy: its change where the window ends a period of the ringing later [J]; 0 where none is seen
	Delay      *Delay            // of a channel's delay: what stands beside a sure value; else nil
	Budget     []Contribution    // what U is made of, nil until it is computed
	MonteCarlo *MonteCarlo       // what trials say beside U, nil where none were asked for
	Drawing    *Drawing          // how it was read off, for a figure of it, where Options.Drawings asks for it; else nil
	Warnings   []waveform.Warning
}

// Delay is what is known of a channel's delay besides a value that is sure.
type Delay struct {
	Suggested float64 // a doubtful estimate [s], NaN if there is none; the warning says why
	Applied   float64 // what was removed [s]
	Basis     string  // what a sure one rests on in this shot, "" for one that is not
}

// Mark is a place on a trace at which a level was crossed or an extreme was
// found; figures draw it.
type Mark struct {
	Role  Role
	Label string  // "i 10 %", "v peak"
	T     float64 // [s]
	Y     float64 // [unit of the role]
}

// EdgeMarks is what was read off around one edge, for figures.
type EdgeMarks struct {
	Edge   Edge
	Pulse  int
	T      float64           // as in the event [s]
	Bus    float64           // base of the voltage levels [V]
	Load   float64           // base of the current levels [A]
	Window waveform.Interval // the energy window
	Name   string            // its name
	Energy float64           // energy in the window [J]
	Marks  []Mark
}

// Correction is one thing that was done to a channel before anything was
// read, with what it does to the energies. NaN where it has no effect to tell.
type Correction struct {
	Channel Role
	Kind    string  // "scale", "invert", "offset", "delay", "zero"
	Value   float64 // what was taken off, or the factor
	Unit    string
	Over    waveform.Interval // the quiet interval it was found on, zero if given
	EOn     float64           // change of e_on that it caused [J]
	EOff    float64           // change of e_off that it caused [J]
	Text    string
}

// Condition is one item of the test-condition record: a number with a unit, or
// words.
type Condition struct {
	Key   string  // "rg_on", "tj", "device"
	Value float64 // NaN if it is words
	Unit  string
	Text  string // as written
}

// Channel is what is known of one trace of a capture.
type Channel struct {
	Name      string
	Unit      string
	Role      Role    // "" if none
	Basis     string  // how the role was decided
	Sure      float64 // how sure that is, 0 to 1
	First     float64
	Last      float64
	Min       float64 // of the finite samples
	Max       float64
	OverRange int // samples over range
	Points    int
	T0        float64 // [s]
	Dt        float64 // [s]
}

// Recording is how a role was recorded, as capture and set-up tell it. What nothing
// tells is NaN, 0 bits or "".
type Recording struct {
	Role       Role
	Trace      string  // its name in the file
	Points     int     // samples of the record
	Dt         float64 // between them [s]
	Bandwidth  float64 // -3 dB, of probe and scope together [Hz]
	Bits       int     // resolution of the converter
	Range      float64 // full input range, peak to peak [unit of the role]
	Calibrated string  // day of the calibration
	Due        string  // day of the next one
}

// Look is what a capture holds, without measuring anything.
type Look struct {
	Capture  string
	Files    []string
	Layout   string
	Points   int
	T0       float64 // [s]
	Dt       float64 // [s]
	Segments int
	Grouping string // how files became this capture, "" where it is one file
	Channels []Channel
	Header   []waveform.Field
	Warnings []waveform.Warning
	Err      error // why it could not be read, nil if it could
}

// Shot is the result for one capture: a row of the table.
type Shot struct {
	Capture     string
	Files       []string
	SHA256      []string
	Conditions  []Condition
	Version     string      // of slewbook
	Settings    string      // hash of all that shaped the numbers
	Bench       string      // hash of what the set-up states of the channels: shots of one bench share their errors; "" where it states nothing
	Channels    []Recording // of a joined shot those of both captures
	Events      []Event
	Quantities  []Measurement // in the order of Columns
	Corrections []Correction
	Edges       []EdgeMarks
	Phases      []Phase  // of edges that were switched in stages
	Assumed     []string // what uncertainties were assumed, where nothing told them
	Warnings    []waveform.Warning
	Err         error // why it was refused or failed, nil if it was measured

	// Traces are the corrected traces that the quantities were read from, by
	// role, for figures. Whoever keeps many shots drops them first.
	Traces map[Role]*waveform.Trace
	// Raw holds the traces before correction where they differ.
	Raw map[Role]*waveform.Trace
}

// Quantity returns the measurement of that key, nil if there is none.
func (s *Shot) Quantity(key string) *Measurement {
	for i := range s.Quantities {
		if s.Quantities[i].Key == key {
			return &s.Quantities[i]
		}
	}
	return nil
}

// Condition returns the first condition of that key, nil if there is none.
func (s *Shot) Condition(key string) *Condition { return FindCondition(s.Conditions, key) }

// IGBT tells whether the conditions state the device kind "igbt", for which some symbols
// and words differ.
func (s *Shot) IGBT() bool {
	c := s.Condition("kind")
	return c != nil && c.Text == "igbt"
}

// FindCondition returns the first condition of that key, nil if there is none.
func FindCondition(record []Condition, key string) *Condition {
	for i := range record {
		if record[i].Key == key {
			return &record[i]
		}
	}
	return nil
}

// Alignment is what a shot, or all shots together, say of the channels' delays
// and of the loop.
type Alignment struct {
	Capture string // "" for all shots together
	Shots   int    // how many gave a sure delay, of all shots together; else 0
	Current Measurement
	Gate    Measurement
	Loop    Measurement
	Err     error
}

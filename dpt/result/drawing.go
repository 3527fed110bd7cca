package result

import "slewbook/waveform"

// Drawing is how a quantity was read off, for a figure of it.
type Drawing struct {
	Marks     []Mark          // where levels were passed, extremes were found
	Lines     []Construction  // tangents, fits, the load current
	Integrand *waveform.Trace // what was integrated over Measurement.Over, nil where nothing was; of e_on and e_off it is v·i
	Sweeps    []Sweep         // the quantity read again with something moved
}

// Construction is a line that was drawn on the trace of a role to read a quantity.
type Construction struct {
	Role  Role
	Trace *waveform.Trace // its Name says what it is
}

// Sweep is a quantity read again with one input moved, the rest as it was.
type Sweep struct {
	Input string // "lag of id", "level that ends the window"
	Unit  string
	At    float64   // where the quantity was read [Unit]
	Seen  float64   // where the shot itself says that it ought to be read [Unit], NaN if it does not
	X     []float64 // [Unit]
	Y     []float64 // [unit of the quantity], NaN where it cannot be read
}

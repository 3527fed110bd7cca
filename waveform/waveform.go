// Package waveform holds what a sampled signal is (Trace, Capture) and what
// can be read off it: state levels, crossings of reference levels, integrals
// and slopes. Words follow IEEE 181. Everything is in SI base units: seconds,
// volts, amperes. It uses the standard library only.
package waveform

import (
	"errors"
	"fmt"
	"math"
)

// Interval is a stretch of time on a capture's own time axis, in seconds.
type Interval struct {
	From, To float64
}

// Duration returns To - From in seconds.
func (iv Interval) Duration() float64 { return iv.To - iv.From }

// Contains tells whether t lies in the closed interval.
func (iv Interval) Contains(t float64) bool { return t >= iv.From && t <= iv.To }

// Range is the input range of the instrument, in the trace's unit. The zero
// value means that it is not known.
type Range struct {
	Min, Max float64
}

// Known tells whether the range was stated.
func (r Range) Known() bool { return r.Max > r.Min }

// Step records one thing that was done to a trace, so that it stays visible
// and can be undone: y = scale·y, y = y - offset, t = t - delay and so on.
type Step struct {
	Kind  string  // "scale", "invert", "offset", "zero", "delay"
	Value float64 // in Unit
	Unit  string
	Text  string // a sentence for people
}

// Trace is one channel of a capture on an even time grid.
//
// Sample k was taken at T0 + k·Dt. A sample that the instrument could not
// convert is +Inf (over range at the top) or -Inf (at the bottom); a sample
// that is missing is NaN. Neither is ever replaced by a number, so every
// quantity whose interval holds one comes out as "not measurable".
type Trace struct {
	Name  string    // as in the file
	Unit  string    // SI unit of Y: "V", "A", "" if the file does not say
	T0    float64   // time of the first sample [s]
	Dt    float64   // sample interval [s]
	Y     []float64 // samples [Unit]
	Range Range     // input range [Unit], where the file or the setup tells it
	Steps []Step    // what was done to the samples, oldest first

	Recorded Recorded // where Y is not what the file holds
}

// Recorded is what a file holds of a trace whose samples were resampled, or
// flagged as clipped, on reading. The zero value means that Y is as in the file.
type Recorded struct {
	Points    int
	OverRange int     // samples
	Min, Max  float64 // of the finite samples, those at the rail included
}

// Len returns the number of samples.
func (tr *Trace) Len() int { return len(tr.Y) }

// XY returns the time and value of sample k, so that a trace plots as it is.
func (tr *Trace) XY(k int) (x, y float64) { return tr.T0 + float64(k)*tr.Dt, tr.Y[k] }

// Time returns the time of sample k [s].
func (tr *Trace) Time(k int) float64 { return tr.T0 + float64(k)*tr.Dt }

// Pos returns the fractional sample number of time t.
func (tr *Trace) Pos(t float64) float64 { return (t - tr.T0) / tr.Dt }

// Span returns the interval from the first to the last sample.
func (tr *Trace) Span() Interval {
	return Interval{tr.T0, tr.T0 + float64(len(tr.Y)-1)*tr.Dt}
}

// At returns the linearly interpolated value at time t, NaN outside the trace.
func (tr *Trace) At(t float64) float64 {
	x := tr.Pos(t)
	n := len(tr.Y)
	// Half a millionth of a sample absorbs rounding of T0 + k·Dt at the ends.
	const slack = 5e-7
	if !(x >= -slack && x <= float64(n-1)+slack) {
		return math.NaN()
	}
	k := min(max(int(x), 0), n-1)
	f := x - float64(k)
	if k == n-1 || f <= slack {
		return tr.Y[k]
	}
	return tr.Y[k] + f*(tr.Y[k+1]-tr.Y[k])
}

// Indices returns the first sample at or after iv.From and the first one
// after iv.To, clipped to the trace: Y[lo:hi] are the samples inside iv.
func (tr *Trace) Indices(iv Interval) (lo, hi int) {
	const slack = 5e-7
	n := len(tr.Y)
	clip := func(x float64) int {
		if !(x > 0) { // also NaN
			return 0
		}
		if x > float64(n) {
			return n
		}
		return int(x)
	}
	lo = clip(math.Ceil(tr.Pos(iv.From) - slack))
	hi = clip(math.Floor(tr.Pos(iv.To)+slack) + 1)
	return lo, max(lo, hi)
}

// Samples returns the samples inside iv, without copying.
func (tr *Trace) Samples(iv Interval) []float64 {
	lo, hi := tr.Indices(iv)
	return tr.Y[lo:hi]
}

// Field is one entry of a file's preamble, in the order of the file.
type Field struct {
	Key, Value string
}

// Capture is what one trigger left behind: the traces, the files they came
// from, the layout that was recognised and what the reader had to say.
type Capture struct {
	Name     string   // slash path relative to the PATH given, without extension; "#3" for a segment
	Files    []string // the files read
	SHA256   []string // hash of each file, lower-case hex
	Layout   string   // name of the layout, by its shape
	Segments int      // segments in the file this capture is from, 1 where there is but one
	Traces   []*Trace
	Header   []Field // preamble fields
	Warnings []Warning
}

// Trace returns the trace of that name, nil if there is none.
func (c *Capture) Trace(name string) *Trace {
	for _, tr := range c.Traces {
		if tr.Name == name {
			return tr
		}
	}
	return nil
}

// Check tells whether the capture obeys what all code behind the readers
// relies on: at least one trace; each with a finite T0, a finite Dt > 0 and at
// least two samples. Every reader ends in it.
func (c *Capture) Check() error {
	if len(c.Traces) == 0 {
		return errors.New("the capture holds no trace; expected at least one column of samples")
	}
	for _, tr := range c.Traces {
		switch {
		case len(tr.Y) < 2:
			return fmt.Errorf("trace %q holds %d sample(s); expected at least two", tr.Name, len(tr.Y))
		case !(tr.Dt > 0) || math.IsInf(tr.Dt, 0):
			return fmt.Errorf("trace %q has a sample interval of %g s; expected a finite one above zero", tr.Name, tr.Dt)
		case math.IsNaN(tr.T0) || math.IsInf(tr.T0, 0):
			return fmt.Errorf("trace %q starts at %g s; expected a finite time", tr.Name, tr.T0)
		}
	}
	return nil
}

package waveform_test

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"testing"

	"slewbook/waveform"
)

// scipyDir holds our script and what NumPy and SciPy read off its signals.
const scipyDir = "../testdata/scipy"

// span is the interval that a reading is confined to [s].
type span struct {
	From, To float64
}

func (s span) interval() waveform.Interval { return waveform.Interval{From: s.From, To: s.To} }

// readings is the output of make.py. A null is NaN.
type readings struct {
	Script  string `json:"script_sha256"`
	SciPy   string
	NumPy   string
	Signals map[string]struct {
		T0, Dt float64
		Y      []float64
	}
	Levels []struct {
		Signal                  string
		From, To                int // samples
		Shorth, Mode, Mean, Std float64
	}
	States []struct {
		Signal    string
		Low, High float64
	}
	Crossings []struct {
		span
		Signal      string
		Level       float64
		Rising      bool
		First, Last *float64
	}
	Bends []struct {
		Signal              string
		Level, First, Bound float64
	}
	Integrals []struct {
		span
		Signal string
		Value  float64
	}
	Products []struct {
		span
		A, B         string
		Delay, Value float64
	}
	Lines []struct {
		span
		Signal                 string
		N                      int
		T, Y0, Slope, Residual float64
	}
	Steepest []struct {
		span
		Signal   string
		N        int
		Rising   bool
		Slope, T float64
	}
}

func readReadings(t *testing.T) readings {
	t.Helper()
	b, err := os.ReadFile(scipyDir + "/waveform.json")
	if err != nil {
		t.Fatal(err)
	}
	var r readings
	if err := json.Unmarshal(b, &r); err != nil {
		t.Fatal(err)
	}
	return r
}

func (r readings) trace(t *testing.T, name string) *waveform.Trace {
	t.Helper()
	s, ok := r.Signals[name]
	if !ok {
		t.Fatalf("waveform.json has no signal %q", name)
	}
	return &waveform.Trace{Name: name, T0: s.T0, Dt: s.Dt, Y: s.Y}
}

func direction(rising bool) waveform.Slope {
	if rising {
		return waveform.Rising
	}
	return waveform.Falling
}

// The same definition computed twice differs by rounding alone: sums of some
// hundred values of 600 V at most.
const rounding = 1e-10

// State levels: the shortest half counted out, and the mean in the fullest of
// 256 bins (scipy.stats.binned_statistic); halves split at the middle of the
// range of scipy.ndimage.median_filter.
func TestSciPyLevels(t *testing.T) {
	r := readReadings(t)
	for _, l := range r.Levels {
		name := fmt.Sprintf("%s[%d:%d]", l.Signal, l.From, l.To)
		y := r.trace(t, l.Signal).Y[l.From:l.To]
		near(t, "shorth "+name, waveform.Level(y, waveform.Shorth), l.Shorth, rounding)
		near(t, "mode "+name, waveform.Level(y, waveform.HistogramMode), l.Mode, rounding)
		near(t, "mean "+name, waveform.Mean(y), l.Mean, rounding)
		near(t, "std "+name, waveform.StdDev(y), l.Std, rounding)
	}
	for _, s := range r.States {
		low, high := waveform.States(r.trace(t, s.Signal).Y, waveform.Shorth)
		near(t, "low "+s.Signal, low, s.Low, rounding)
		near(t, "high "+s.Signal, high, s.High, rounding)
	}
}

// Crossings: roots of the straight lines between samples by brentq, to a
// femtosecond.
func TestSciPyCrossings(t *testing.T) {
	r := readReadings(t)
	for _, c := range r.Crossings {
		tr, dir := r.trace(t, c.Signal), direction(c.Rising)
		name := fmt.Sprintf("%s %g from %.4g s (%v)", c.Signal, c.Level, c.From, dir)
		first := waveform.FirstCrossing(tr, c.Level, dir, c.interval())
		last := waveform.LastCrossing(tr, c.Level, dir, c.interval())
		if c.First == nil {
			if !math.IsNaN(first) || !math.IsNaN(last) {
				t.Errorf("%s: crossings at %g and %g s, SciPy finds none", name, first, last)
			}
			continue
		}
		near(t, "first "+name, first, *c.First, 1e-15)
		near(t, "last "+name, last, *c.Last, 1e-15)
	}
}

// A straight line between two samples meets the level where the cubic spline
// through all samples does, to within what the spline bends in one interval.
func TestSciPySpline(t *testing.T) {
	r := readReadings(t)
	for _, b := range r.Bends {
		tr := r.trace(t, b.Signal)
		got := waveform.FirstCrossing(tr, b.Level, waveform.Rising, tr.Span())
		near(t, fmt.Sprint("spline ", b.Level), got, b.First, b.Bound)
	}
}

// Integrals: scipy.integrate.trapezoid with interpolated ends; products of two
// interpolants, on different grids, by Gauss quadrature piece by piece, which
// is exact for them.
func TestSciPyIntegrals(t *testing.T) {
	r := readReadings(t)
	for _, q := range r.Integrals {
		got := waveform.Integral(r.trace(t, q.Signal), q.interval())
		near(t, fmt.Sprintf("integral of %s from %.4g s", q.Signal, q.From), got, q.Value, 1e-10*math.Abs(q.Value))
	}
	for _, q := range r.Products {
		b := r.trace(t, q.B)
		b.T0 -= q.Delay
		got := waveform.ProductIntegral(r.trace(t, q.A), b, q.interval())
		near(t, fmt.Sprintf("integral of %s·%s from %.4g s", q.A, q.B, q.From), got, q.Value, 1e-10*math.Abs(q.Value))
	}
}

// Straight lines: numpy.polyfit, itself compared with scipy.stats.linregress.
func TestSciPyLines(t *testing.T) {
	r := readReadings(t)
	for _, l := range r.Lines {
		got := waveform.FitLine(r.trace(t, l.Signal), l.interval())
		if got.N != l.N {
			t.Errorf("%s from %.4g s: line through %d samples, SciPy %d", l.Signal, l.From, got.N, l.N)
		}
		name := fmt.Sprintf("%s from %.4g s: ", l.Signal, l.From)
		near(t, name+"t", got.T, l.T, 1e-15)
		near(t, name+"y0", got.Y0, l.Y0, rounding)
		near(t, name+"slope", got.Slope, l.Slope, 1e-10*math.Abs(l.Slope))
		near(t, name+"residual", got.Residual, l.Residual, rounding)
	}
}

// The steepest local slope: the extreme of the first derivative by
// scipy.signal.savgol_filter of order 1, which is a sliding straight line.
func TestSciPySteepest(t *testing.T) {
	r := readReadings(t)
	for _, s := range r.Steepest {
		got := waveform.SteepestFit(r.trace(t, s.Signal), s.interval(), s.N, direction(s.Rising))
		name := fmt.Sprintf("steepest %s through %d: ", s.Signal, s.N)
		near(t, name+"slope", got.Slope, s.Slope, 1e-9*math.Abs(s.Slope))
		near(t, name+"t", got.T, s.T, 1e-15)
	}
}

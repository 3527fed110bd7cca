package format

import (
	"fmt"
	"math"
	"regexp"

	"slewbook/waveform"
)

// vector is a series of numbers with its name, as containers hold them.
type vector struct {
	name string
	unit string // as in the file, "" if it does not say
	y    []float64
	// stamps is how finely the numbers are resolved, should they be time.
	stamps precision

	group    string            // in which it lies, "a/b", "" at the top
	dt, t0   float64           // its own sample interval and start [s], 0 if it states none
	steps    []waveform.Step   // what was done to y
	table    string            // name of the array of two dimensions that it is a column of, "" if none
	recorded waveform.Recorded // where y was resampled
}

// singlePrecision is the precision of stamps in 32-bit floating point: seven
// digits.
func singlePrecision() precision { return precision{last: -400, mant: 9_999_999} }

var vectorTime = regexp.MustCompile(`(?i)^(t|time.*|zeit.*|x|ts|t_s|tvec|timestamps?)$`)

// fromVectors makes a capture of vectors of one length: one of them is the
// time, by its name or unit, or a number that is given beside them states the
// sample interval.
func fromVectors(in Input, layout string, vs []vector, fields []field) (*waveform.Capture, error) {
	table := aloneTable(vs)
	at, series := -1, vs[:0:0]
	style := vectorUnits(vs)
	for _, v := range vs {
		if name, symbol := style(v.name); v.unit == "" && len(v.y) > 1 {
			v.name, v.unit = name, symbol
		}
		switch {
		case len(v.y) == 1 && len(vs) > 1:
			fields = append(fields, field{key: v.name, values: []string{fmt.Sprint(v.y[0])}})
		case len(v.y) > 0:
			series = append(series, v)
		}
	}
	for i, v := range series {
		if at < 0 && isTime(v) {
			at = i
		}
	}
	fields = append(fields, ownInterval(series, at)...)
	if at >= 0 {
		// The samples are those beside the time; other lengths are other things.
		kept := []vector{series[at]}
		for i, v := range series {
			if i != at && len(v.y) == len(series[at].y) {
				kept = append(kept, v)
			}
		}
		series, at = kept, 0
	}
	c := &waveform.Capture{Segments: 1, Layout: layout, Header: header(fields)}
	a, perr := vectorAxis(in, series, at, fields)
	if perr != nil {
		return nil, perr
	}
	c.Warnings = append(c.Warnings, a.warnings...)
	if a.uneven != nil {
		series[0] = vector{name: series[0].name, unit: "s", y: a.uneven}
		if err := evenGrid(series, c); err != nil {
			return nil, in.fault(err.Error(), "time that grows", "")
		}
		a.dt = (a.uneven[len(a.uneven)-1] - a.t0) / float64(len(series[0].y)-1)
	}
	for i, v := range series {
		if i == at {
			continue
		}
		b := a
		if at < 0 && v.dt > 0 {
			b = axis{t0: v.t0, dt: v.dt}
		}
		addVector(c, v, b)
	}
	if table && len(c.Traces) > 1 {
		unnamed(c)
	}
	if len(c.Traces) == 0 {
		return nil, in.fault("no sample in any vector", "at least one vector of samples", "")
	}
	if err := c.Check(); err != nil {
		return nil, in.fault(err.Error(), "", "")
	}
	return c, nil
}

// ownInterval returns the interval that the samples beside a time vector state
// of themselves, as a field, so that it is compared with the stamps.
func ownInterval(series []vector, at int) []field {
	if at < 0 {
		return nil
	}
	for _, v := range series {
		if v.dt > 0 {
			return []field{{key: "dt", values: []string{fmt.Sprint(v.dt)}}}
		}
	}
	return nil
}

// timeWithUnit matches names of time vectors that end in their unit.
var timeWithUnit = regexp.MustCompile(`^(?i:t|time|zeit)[_ ](s|ms|us|µs|μs|ns|ps)$`)

// vectorUnits returns how the names of vectors give their units: as those of
// columns do, and for the time alone also behind an underscore.
func vectorUnits(vs []vector) func(name string) (string, string) {
	var names []string
	for _, v := range vs {
		if len(v.y) < 2 || v.unit != "" {
			continue
		}
		if timeWithUnit.MatchString(v.name) {
			names = append([]string{v.name}, names...)
		} else {
			names = append(names, v.name)
		}
	}
	style := unitStyle(names)
	return func(name string) (string, string) {
		if timeWithUnit.MatchString(name) {
			return splitUnit(name)
		}
		return style(name)
	}
}

// addVector makes a trace of a vector that holds a sample.
func addVector(c *waveform.Capture, v vector, a axis) {
	over, missing := count(v.y)
	if missing == len(v.y) {
		c.Warnings = append(c.Warnings, waveform.Warning{Code: waveform.ChannelEmpty, Channel: v.name, Text: v.name + " holds no sample and was left out"})
		return
	}
	tr := &waveform.Trace{Name: v.name, Unit: v.unit, T0: a.t0, Dt: a.dt, Y: a.spread(v.y), Recorded: v.recorded, Steps: v.steps}
	if exp, base, ok := cellSymbol(v.unit); ok {
		tr.Unit = base
		shiftAll(tr.Y, exp)
		tr.Recorded.Min, tr.Recorded.Max = tr.Recorded.Min*math.Pow10(exp), tr.Recorded.Max*math.Pow10(exp)
	}
	if c.Trace(tr.Name) != nil {
		tr.Name = fmt.Sprintf("%s (%d)", tr.Name, len(c.Traces)+1)
	}
	c.Traces = append(c.Traces, tr)
	c.Warnings = append(c.Warnings, sampleWarnings(channel{name: tr.Name, over: over, missing: missing}, len(v.y))...)
}

// shiftAll multiplies by a power of ten.
func shiftAll(y []float64, exp int) {
	for i := range y {
		if exp < 0 {
			y[i] /= math.Pow10(-exp)
		} else if exp > 0 {
			y[i] *= math.Pow10(exp)
		}
	}
}

// vectorAxis returns the axis of the time vector, or of the interval that is
// stated in the file or the set-up where there is none.
func vectorAxis(in Input, series []vector, at int, fields []field) (axis, error) {
	d := dialect{point: '.'}
	stated := d.interval(fields)
	if at >= 0 {
		t := append([]float64(nil), series[at].y...)
		if exp, _, ok := cellSymbol(series[at].unit); ok {
			shiftAll(t, exp)
		}
		a, err := newAxis(t, series[at].stamps, stated)
		if err != nil {
			return axis{}, in.fault(err.found, err.expected, err.do)
		}
		return a, nil
	}
	each := len(series) > 0
	for _, v := range series {
		each = each && v.dt > 0
	}
	if each {
		return axis{}, nil
	}
	for _, v := range series {
		if len(v.y) != len(series[0].y) {
			return axis{}, in.fault(fmt.Sprintf("vectors of %d and %d numbers and none that is named as time", len(series[0].y), len(v.y)), "vectors of one length, one of them named t or time", "")
		}
	}
	if in.opt.Interval > 0 {
		return axis{t0: in.opt.Start, dt: in.opt.Interval}, nil
	}
	if math.IsNaN(stated) {
		return axis{}, in.fault("no vector that holds time", "one that is named t or time, or a sample interval beside the samples",
			"export with time, or give the interval in the set-up file ([file] interval)")
	}
	return axis{t0: d.origin(fields, stated), dt: stated}, nil
}

// unnamed warns of channels without names and units.
func unnamed(c *waveform.Capture) {
	c.Warnings = append(c.Warnings,
		waveform.Warning{Code: waveform.NoNames, Text: "the file does not name its channels; they are numbered"},
		waveform.Warning{Code: waveform.NoUnits, Text: "the file gives no units; samples were taken as they stand, time as seconds"})
}

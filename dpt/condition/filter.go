package condition

import (
	"fmt"
	"math"
	"slices"

	"slewbook/filters"
	"slewbook/waveform"
)

// FilterKind is the kind of the step that [Filter] leaves, MatchKind that of [Match] and
// ProbeKind that of [Probe].
const (
	FilterKind = "filter"
	MatchKind  = "match-bandwidth"
	ProbeKind  = "probe"
)

// CheckFilter tells what is wrong with the words of a filter, whatever the
// sampling interval; whether the filter suits the samples shows on the record.
func CheckFilter(words string) error {
	var err error
	for dt := 1.0; dt > 1e-13; dt /= 10 {
		if _, err = filters.Parse(words, dt); err == nil {
			return nil
		}
	}
	return err
}

// Filter returns the trace behind the zero-phase filter of those words (see
// [filters.Parse]). Its step has the bandwidth as its value [Hz], NaN where the
// filter has none, and says what becomes of the 10-90 % duration of a step and
// of an edge of 10 ns. A sample that is not finite leaves NaN where it has a
// part.
func Filter(tr *waveform.Trace, words string) (*waveform.Trace, error) {
	f, err := filters.Parse(words, tr.Dt)
	if err != nil {
		return nil, err
	}
	return smooth(tr, f, FilterKind, "filtered, "+f.Name)
}

// smooth applies a filter and records what it does to edges.
func smooth(tr *waveform.Trace, f filters.Filter, kind, text string) (*waveform.Trace, error) {
	y, err := f.Apply(tr.Y)
	if err != nil {
		return nil, err
	}
	const edge = 10e-9
	pass := "no bandwidth of its own"
	if !math.IsNaN(f.Bandwidth) {
		pass = fmt.Sprintf("-3 dB at %.4g MHz", f.Bandwidth*1e-6)
	}
	out := *tr
	out.Y = y
	out.Steps = append(slices.Clone(tr.Steps), waveform.Step{Kind: kind, Value: f.Bandwidth, Unit: "Hz",
		Text: fmt.Sprintf("%s: %s; from 10 to 90 %% a step takes %.3g ns behind it, an edge of %.3g ns takes %.4g ns",
			text, pass, f.RiseTime(0)*1e9, edge*1e9, f.RiseTime(edge)*1e9)})
	return &out, nil
}

// Match slows the trace from its own bandwidth down to that of the slower
// channel [Hz], with a Gaussian of bandwidth b, 1/b² = 1/slower² - 1/own², which
// is exact for channels with a Gaussian response and an estimate else. Where b
// is at or above the Nyquist frequency, the samples cannot show what is between
// the two bandwidths: the trace is returned as it is, with nothing in its steps.
func Match(tr *waveform.Trace, own, slower float64) (*waveform.Trace, error) {
	if !(slower > 0 && slower <= own) {
		return nil, fmt.Errorf("a channel of %.4g MHz cannot be slowed to %.4g MHz", own*1e-6, slower*1e-6)
	}
	b := 1 / math.Sqrt(1/(slower*slower)-1/(own*own))
	if !(b < 0.5/tr.Dt) {
		return tr, nil
	}
	f, err := filters.Gaussian(b, tr.Dt)
	if err != nil {
		return nil, err
	}
	return smooth(tr, f, MatchKind, fmt.Sprintf("slowed from %.4g MHz to the %.4g MHz of the slower channel, Gaussian", own*1e-6, slower*1e-6))
}

// Probe returns a simulated trace as a channel of that bandwidth [Hz] with a Gaussian
// response and no delay would have recorded it. Where the bandwidth is at or above the
// Nyquist frequency the samples cannot show it: the trace is returned as it is, with
// nothing in its steps.
func Probe(tr *waveform.Trace, bandwidth float64) (*waveform.Trace, error) {
	if !(bandwidth < 0.5/tr.Dt) {
		return tr, nil
	}
	f, err := filters.Gaussian(bandwidth, tr.Dt)
	if err != nil {
		return nil, err
	}
	return smooth(tr, f, ProbeKind, fmt.Sprintf("simulated, and slowed to the %.4g MHz of the channel, Gaussian", bandwidth*1e-6))
}

// Bandwidth returns the bandwidth of the filters that were applied to the trace
// [Hz], as its steps tell; NaN without any.
func Bandwidth(tr *waveform.Trace) float64 {
	var all []float64
	for _, s := range tr.Steps {
		if s.Kind == FilterKind || s.Kind == MatchKind || s.Kind == ProbeKind {
			all = append(all, s.Value)
		}
	}
	return waveform.SystemBandwidth(all...)
}

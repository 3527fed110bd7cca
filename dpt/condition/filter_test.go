package condition_test

import (
	"math"
	"testing"

	"slewbook/dpt/condition"
	"slewbook/waveform"
	"slewbook/waveform/wavetest"
)

// A Gaussian edge of 1.75 ns (200 MHz is 1.698 ns) behind a Gaussian filter of
// 200 MHz is as long as the root of the sum of squares, and stays in place.
func TestFilter(t *testing.T) {
	const dt = 0.1e-9
	e := wavetest.GaussianEdge{Low: 0, High: 100, Mid: 20.03e-9, Sigma: 1.75e-9 / 2.5631}
	raw := wavetest.Sample(e.At, "CH2", "V", 0, dt, 400)
	got, err := condition.Filter(raw, "gauss 200 MHz")
	if err != nil {
		t.Fatal(err)
	}
	cross := func(p float64) float64 { return waveform.FirstCrossing(got, p, waveform.Rising, got.Span()) }
	if d, want := cross(90)-cross(10), math.Hypot(1.75e-9, waveform.GaussianRise/200e6); math.Abs(d-want) > 2e-3*want {
		t.Errorf("the edge takes %g s, expected %g", d, want)
	}
	if mid := cross(50); math.Abs(mid-20.03e-9) > 1e-12 {
		t.Errorf("its middle is at %g s, expected 20.03 ns", mid)
	}
	want := waveform.Step{Kind: "filter", Value: 200e6, Unit: "Hz",
		Text: "filtered, gauss 200 MHz: -3 dB at 200 MHz; from 10 to 90 % a step takes 1.7 ns behind it, an edge of 10 ns takes 10.14 ns"}
	if len(got.Steps) != 1 || got.Steps[0] != want {
		t.Errorf("steps %+v, expected %+v", got.Steps, want)
	}
	if bw := condition.Bandwidth(got); bw != 200e6 {
		t.Errorf("bandwidth %g Hz", bw)
	}
	if len(raw.Steps) != 0 || raw.Y[200] != e.At(raw.Time(200)) {
		t.Error("the raw trace was changed")
	}
	twice, err := condition.Filter(got, "median 5")
	if err != nil {
		t.Fatal(err)
	}
	if s := twice.Steps[1]; !math.IsNaN(s.Value) || condition.Bandwidth(twice) != 200e6 {
		t.Errorf("a median has no bandwidth: %+v", s)
	}
}

func TestFilterErrors(t *testing.T) {
	raw := wavetest.Sample(func(float64) float64 { return 0 }, "CH2", "V", 0, 1e-9, 10)
	for words, want := range map[string]string{
		"gauss 600 MHz": `filter "gauss 600 MHz": filters: bandwidth of 600 MHz: expected more than 0 and less than 500 MHz, half the sampling rate of one sample in 1e-09 s`,
		"mean 99":       `filters: mean 99 on a record of 10 samples: expected at least 50, which the filter spans at an end; take a shorter filter`,
		"gauss":         `filter "gauss": frequency "": expected a number and Hz, kHz, MHz or GHz, as in "200 MHz"`,
	} {
		if _, err := condition.Filter(raw, words); err == nil || err.Error() != want {
			t.Errorf("%s: %v\nexpected %s", words, err, want)
		}
	}
	for _, words := range []string{"gauss 1 Hz", "gauss 30 GHz", "butter 4 bw 100 MHz", "butter 8 20 kHz", "sg 11 3", "mean 9", "median 5"} {
		if err := condition.CheckFilter(words); err != nil {
			t.Errorf("%s: %v", words, err)
		}
	}
}

// Two channels of 500 and 100 MHz on the same edge: the faster one, matched, is
// the slower one. Both edges are Gaussian; 100 MHz alone takes 3.396 ns.
func TestMatch(t *testing.T) {
	const dt = 0.2e-9
	channel := func(bw float64) *waveform.Trace {
		e := wavetest.GaussianEdge{Low: 5, High: 400, Mid: 40.01e-9, Sigma: math.Sqrt(math.Ln2) / (2 * math.Pi * bw)}
		return wavetest.Sample(e.At, "CH", "V", 0, dt, 400)
	}
	slow := channel(100e6)
	got, err := condition.Match(channel(500e6), 500e6, 100e6)
	if err != nil {
		t.Fatal(err)
	}
	// An edge of 500 MHz has few samples (0.68 ns at 0.2 ns), which a straight sum
	// takes as they are: 1e-4 of the swing.
	for k, y := range got.Y {
		if math.Abs(y-slow.Y[k]) > 1e-4*395 {
			t.Fatalf("sample %d is %g, on the slower channel %g", k, y, slow.Y[k])
		}
	}
	if bw := waveform.SystemBandwidth(500e6, condition.Bandwidth(got)); math.Abs(bw-100e6) > 1 {
		t.Errorf("the matched channel has %g Hz", bw)
	}
	alike, err := condition.Match(slow, 100e6, 99.99e6)
	if err != nil || alike != slow {
		t.Errorf("bandwidths that the samples cannot tell apart: %v, %v", alike.Steps, err)
	}
	if _, err := condition.Match(slow, 100e6, 200e6); err == nil || err.Error() != "a channel of 100 MHz cannot be slowed to 200 MHz" {
		t.Errorf("error %v", err)
	}
}

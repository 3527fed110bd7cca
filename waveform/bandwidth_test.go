package waveform_test

import (
	"math"
	"testing"

	"slewbook/waveform"
	"slewbook/waveform/wavetest"
)

// Trade-facts rank 7. Sources: 350 MHz with 200 MHz is 174 MHz in a device
// maker's white paper of 2021 (secondary), 173.65 exactly; 2 GHz with 1 GHz is
// 894 MHz (a maker rounds that to "about 1 GHz"); rise time times bandwidth
// 0.3396 for a Gaussian (derived); errors of an uncorrected rise time (derived).
func TestBandwidth(t *testing.T) {
	near(t, "350 and 200 MHz", waveform.SystemBandwidth(350e6, 200e6), 173.65e6, 0.005e6)
	near(t, "2 and 1 GHz", waveform.SystemBandwidth(2e9, 1e9), 894.4e6, 0.1e6)
	near(t, "unknown left out", waveform.SystemBandwidth(math.NaN(), 200e6), 200e6, 1)
	near(t, "rise time times bandwidth", waveform.GaussianRise, 0.33962, 5e-5)
	// An edge seen as 5.00 ns with a system of 1.75 ns is 4.684 ns (derived).
	near(t, "own rise", waveform.OwnRise(5e-9, 1.75e-9), 4.684e-9, 0.0005e-9)
	if got := waveform.OwnRise(1e-9, 2e-9); !math.IsNaN(got) {
		t.Errorf("a system slower than what it measured leaves %g s", got)
	}
}

// A Gaussian edge k times as long as the system's own rise is read too long by
// 5.41 % at k = 3 and 1.98 % at k = 5: read off sampled edges, not computed.
func TestRiseErrorOfSampledEdges(t *testing.T) {
	const system = 1e-9
	for k, want := range map[float64]float64{1: 0.414, 2: 0.118, 3: 0.0541, 5: 0.0198, 10: 0.0050} {
		own := k * system
		sigma := math.Hypot(own, system) / 2.5631
		e := wavetest.GaussianEdge{Low: 0, High: 1, Mid: 60e-9, Sigma: sigma}
		tr := wavetest.Sample(e.At, "v", "V", 0, 20e-12, 6000)
		seen := waveform.FirstCrossing(tr, 0.9, waveform.Rising, tr.Span()) - waveform.FirstCrossing(tr, 0.1, waveform.Rising, tr.Span())
		near(t, "error of the rise time", seen/own-1, want, 0.001*(1+want)*1.5)
		near(t, "corrected", waveform.OwnRise(seen, system), own, 1e-3*own)
	}
}

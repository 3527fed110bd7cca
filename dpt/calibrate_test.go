package dpt_test

import (
	"math"
	"strings"
	"testing"

	"slewbook/dpt"
	"slewbook/waveform"
	"slewbook/waveform/wavetest"
)

// calibration is a capture of an edge of v, and of i with a lag.
func calibration(lag, dt float64, up bool, noise float64) *waveform.Capture {
	v := wavetest.GaussianEdge{Low: 40, High: 0, Mid: 200e-9, Sigma: 4e-9}
	i := wavetest.GaussianEdge{Low: 0, High: 4, Mid: 200e-9 + lag, Sigma: 4e-9}
	if !up {
		i.Low, i.High = 4, 0
	}
	n := int(400e-9 / dt)
	c := &waveform.Capture{Name: "cal", Traces: []*waveform.Trace{
		wavetest.Sample(v.At, "Vds", "V", 0.13*dt, dt, n), wavetest.Sample(i.At, "Id", "A", 0.13*dt, dt, n)}}
	wavetest.AddNoise(c.Traces[0], 40*noise, 1)
	wavetest.AddNoise(c.Traces[1], 4*noise, 2)
	return c
}

// A known lag between two channels on a common edge is found to within twice
// its uncertainty, which is far below a sample.
func TestCalibrate(t *testing.T) {
	for _, kind := range []dpt.Calibration{dpt.SameEdge, dpt.Resistor} {
		for _, lag := range []float64{0, 0.21e-9, -3.7e-9, 12.3e-9} {
			a := dpt.Calibrate(calibration(lag, 0.8e-9, kind == dpt.Resistor, 0.004), dpt.Defaults(), kind)
			if a.Err != nil {
				t.Fatal(a.Err)
			}
			if off := math.Abs(a.Current.Value - lag); off > 2*a.Current.U || a.Current.U > 0.15e-9 {
				t.Errorf("%s: lag %g s found as %g ± %g s", kind, lag, a.Current.Value, a.Current.U)
			}
		}
	}
}

func TestCalibrateRefuses(t *testing.T) {
	a := dpt.Calibrate(calibration(0, 0.8e-9, true, 0.004), dpt.Defaults(), dpt.SameEdge)
	if a.Err == nil || !strings.Contains(a.Err.Error(), "goes the same way") {
		t.Errorf("error %v", a.Err)
	}
	if err := dpt.Calibration("guess").Validate(); err == nil || err.Error() != `calibration "guess" is not known; expected "same-edge" or "resistor"` {
		t.Errorf("error %v", err)
	}
}

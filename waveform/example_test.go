package waveform_test

import (
	"fmt"

	"slewbook/waveform"
)

// ramp returns a trace that goes from a to b in five samples, 10 ns apart.
func ramp(name, unit string, a, b float64) *waveform.Trace {
	tr := &waveform.Trace{Name: name, Unit: unit, Dt: 10e-9}
	for k := range 5 {
		tr.Y = append(tr.Y, a+(b-a)*float64(k)/4)
	}
	return tr
}

func ExampleFirstCrossing() {
	v := ramp("vds", "V", 0, 400)
	t10 := waveform.FirstCrossing(v, 40, waveform.Rising, v.Span())
	t90 := waveform.FirstCrossing(v, 360, waveform.Rising, v.Span())
	fmt.Printf("10 to 90 %% in %.0f ns\n", (t90-t10)*1e9)
	// Output: 10 to 90 % in 32 ns
}

// A voltage that rises while a current falls, both on straight lines, costs
// V·I·t/6.
func ExampleProductIntegral() {
	v, i := ramp("vds", "V", 0, 400), ramp("id", "A", 30, 0)
	fmt.Printf("%.0f µJ\n", waveform.ProductIntegral(v, i, v.Span())*1e6)
	// A current that lags is a trace that starts earlier once the lag is taken off.
	i.T0 -= 5e-9
	both := waveform.Interval{From: v.T0, To: i.Span().To}
	fmt.Printf("%.2f µJ\n", waveform.ProductIntegral(v, i, both)*1e6)
	// Output:
	// 80 µJ
	// 53.59 µJ
}

// The level of a state is read where most samples are, whatever a few do.
func ExampleLevel() {
	y := []float64{399, 400, 401, 400, 399, 401, 400, 460, 345}
	fmt.Printf("%.0f V\n", waveform.Level(y, waveform.Shorth))
	// Output: 400 V
}

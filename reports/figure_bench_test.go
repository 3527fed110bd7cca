package reports

import (
	"io"
	"testing"

	"slewbook/dpt/result"
	"slewbook/waveform"
)

// longShot has n samples on each of three channels.
func longShot(n int) *result.Shot {
	trace := func(unit string) *waveform.Trace {
		tr := &waveform.Trace{Unit: unit, Dt: 1e-12, Y: make([]float64, n)}
		for k := range tr.Y {
			tr.Y[k] = float64(k%1000) * float64(k%7)
		}
		return tr
	}
	return &result.Shot{Capture: "long", Traces: map[result.Role]*waveform.Trace{
		result.Vds: trace("V"), result.Id: trace("A"), result.Vgs: trace("V"),
	}}
}

// Ten million samples on each channel to a PNG: well under a second.
func BenchmarkTenMillionSamples(b *testing.B) {
	s := longShot(10_000_000)
	for _, style := range Styles() {
		b.Run(style.Name, func(b *testing.B) {
			for b.Loop() {
				for _, f := range figures(b, s, style) {
					if err := f.Write(io.Discard, "png"); err != nil {
						b.Fatal(err)
					}
				}
			}
		})
	}
}

package dpt_test

import (
	"testing"

	"slewbook/dpt"
	"slewbook/dpt/model"
)

// A shot of 100,000 samples of the demo, all its quantities, with and without their
// uncertainties, and without the search for the delay of the current.
func BenchmarkMeasure(b *testing.B) {
	w := model.Campaign()[5].Waveforms()
	in := model.DemoInstrument()
	in.Fs = 100_000 / (w.Span.To - w.Span.From)
	c := model.Capture(w, in, 1)
	bare := dpt.WithoutU(dpt.Defaults())
	unaligned := dpt.Defaults()
	unaligned.Align = dpt.AlignOff
	for _, with := range []struct {
		name string
		opt  dpt.Options
	}{{"all", dpt.Defaults()}, {"without-u", bare}, {"without-delay", unaligned}} {
		b.Run(with.name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if _, err := dpt.Measure(c, with.opt); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

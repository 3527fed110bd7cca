package model

import (
	"math"
	"math/rand/v2"

	"slewbook/waveform"
)

// Channel is one input of the instrument with its probe.
type Channel struct {
	Range     waveform.Range // input range [unit of the signal]
	Bits      int            // resolution over Range; 0 leaves the samples as they are
	Noise     float64        // normal noise, rms [unit of the signal]
	NoiseBW   float64        // -3 dB of a Gaussian low-pass that the noise has passed [Hz]; 0 for white noise
	Offset    float64        // added [unit of the signal]
	GainError float64        // relative: 0.01 reads 1 % too much
	Delay     float64        // the record reads x(t - Delay) [s]
	Bandwidth float64        // -3 dB of a Gaussian low-pass [Hz]; 0 is unlimited
	Beyond    Beyond         // what else is wrong with it
}

// Instrument records a shot.
type Instrument struct {
	Fs             float64 // sampling rate [1/s]
	V, I, Vgs      Channel
	VOther, IOther Channel // of the partner; not recorded where they have no range
}

// partner tells whether the partner is recorded.
func (in Instrument) partner() bool { return in.VOther.Range != waveform.Range{} }

// WithPartner returns the instrument with channels of the partner like those of the
// device under test.
func (in Instrument) WithPartner() Instrument {
	in.VOther, in.IOther = in.V, in.I
	in.IOther.Range = waveform.Range{Min: -in.I.Range.Max, Max: in.I.Range.Max}
	return in
}

// Sigma returns the noise of one sample, the quantiser's LSB/√12 included.
func (c Channel) Sigma() float64 { return math.Hypot(c.Noise, c.lsb()/math.Sqrt(12)) }

func (c Channel) lsb() float64 {
	if c.Bits == 0 {
		return 0
	}
	return (c.Range.Max - c.Range.Min) / math.Exp2(float64(c.Bits))
}

// Ends returns what the outermost codes read, where samples beyond the range stand.
func (c Channel) Ends() (low, high float64) {
	return c.Range.Min + 0.5*c.lsb(), c.Range.Max - 0.5*c.lsb()
}

// DemoInstrument returns the instrument of the demo: 12 bits at 1.25 GS/s,
// noise of about one bit, channels aligned, no limit of bandwidth; the current
// has an offset, which the measurement should find and remove.
func DemoInstrument() Instrument {
	return Instrument{
		Fs:  1.25e9,
		V:   Channel{Range: waveform.Range{Min: -200, Max: 1300}, Bits: 12, Noise: 0.4},
		I:   Channel{Range: waveform.Range{Min: -50, Max: 250}, Bits: 12, Noise: 0.1, Offset: 0.2},
		Vgs: Channel{Range: waveform.Range{Min: -12, Max: 28}, Bits: 12, Noise: 0.02},
	}
}

// Capture records the waveforms: traces "Vds", "Id" and "Vgs", and "V_other" and
// "I_other" where the instrument records the partner, over the whole span. The seed sets the noise and where the samples fall between the edges;
// the same seed gives the same capture.
func Capture(w *Waveforms, in Instrument, seed uint64) *waveform.Capture {
	dt := 1 / in.Fs
	// The start is a whole number of picoseconds, so that a text file can hold it.
	start := rand.New(rand.NewPCG(seed, 0)).Float64()
	t0 := math.Ceil((w.Span.From+start*dt)*1e12) / 1e12
	n := int((w.Span.To - t0) / dt)
	c := &waveform.Capture{Name: w.Name, Layout: "model", Segments: 1}
	type signal struct {
		name, unit string
		f          func(float64) float64
		ch         Channel
	}
	signals := []signal{{"Vds", "V", w.V, in.V}, {"Id", "A", w.I, in.I}, {"Vgs", "V", w.Vg, in.Vgs}}
	if in.partner() {
		signals = append(signals, signal{"V_other", "V", w.VOther, in.VOther}, signal{"I_other", "A", w.IOther, in.IOther})
	}
	for k, s := range signals {
		tr := &waveform.Trace{Name: s.name, Unit: s.unit, T0: t0, Dt: dt, Y: make([]float64, n)}
		seen := s.ch.respond(s.f, w.Span, dt)
		hiss := s.ch.hiss(rand.New(rand.NewPCG(seed, uint64(k)+1)), dt)
		for j := range tr.Y {
			tr.Y[j] = s.ch.convert(seen(tr.Time(j)-s.ch.Delay) + s.ch.Noise*hiss())
		}
		if s.ch.Bits > 0 {
			tr.Range = s.ch.Range
		}
		c.Traces = append(c.Traces, tr)
	}
	return c
}

// convert applies gain, offset and quantiser. What lies outside the range
// sticks to the outermost code.
func (c Channel) convert(x float64) float64 {
	x = x*(1+c.GainError) + c.Offset
	if c.Bits == 0 {
		return x
	}
	code := math.Floor((x - c.Range.Min) / c.lsb())
	code = min(max(code, 0), math.Exp2(float64(c.Bits))-1)
	return c.Range.Min + (code+0.5)*c.lsb()
}

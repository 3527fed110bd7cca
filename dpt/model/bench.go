package model

import (
	"math"
	"math/rand/v2"
	"slices"

	"slewbook/waveform"
)

// Bench is one random shot of the virtual bench: what was switched, and the
// instrument that recorded it, whose errors were drawn from what is stated of it.
type Bench struct {
	Family     string
	Shot       Shot
	Instrument Instrument
	V, I, Vgs  Stated
}

// Stated is what the data of a channel tells of it: standard uncertainties.
type Stated struct {
	GainU   float64 // relative
	OffsetU float64 // [unit of the signal]
	DelayU  float64 // [s]
}

// Families are the kinds of devices of the virtual bench, invented like all else.
func Families() []string { return []string{"sic", "gan", "si", "igbt"} }

// family draws the shots of a kind of device.
type family struct {
	device                       Device
	partner                      Partner
	vbus, i                      span // [V], [A]
	rgOn, rgOff                  span // [Ω]
	loop                         span // [H]
	vgsOn, vgsOff                float64
	driver                       float64   // [s]
	first, gap, width            float64   // [s]
	tails                        span      // time constants of the tail [s]
	rates                        []float64 // sampling [1/s]
	bandwidthV, currentBandwidth span      // [Hz]
}

// span is a range to draw from.
type span struct{ from, to float64 }

// in returns a number of the span, evenly distributed.
func (s span) in(r *rand.Rand) float64 { return s.from + (s.to-s.from)*r.Float64() }

// log returns a number of the span whose logarithm is evenly distributed.
func (s span) log(r *rand.Rand) float64 { return s.from * math.Pow(s.to/s.from, r.Float64()) }

func families() map[string]family {
	return map[string]family{
		"sic": {
			device:  Demo(0, 0).Device,
			partner: Demo(0, 0).Partner,
			vbus:    span{300, 900}, i: span{20, 120}, rgOn: span{3, 20}, rgOff: span{1, 10}, loop: span{5e-9, 40e-9},
			vgsOn: 18, vgsOff: -4, driver: 6e-9, first: 2.5e-6, gap: 1.5e-6, width: 1.2e-6,
			rates: []float64{1.25e9, 2.5e9, 5e9}, bandwidthV: span{200e6, 1e9}, currentBandwidth: span{200e6, 1e9},
		},
		"gan": {
			device: Device{Vth: 1.6, K: 12, Theta: 0.3, R0: 15e-3, G: 15,
				Rgi: 1, Cgs: 0.5e-9, Cgd: 40e-12, Vj: 8, VjG: 10, Cds: 0.6e-9, Lcs: 0.02e-9},
			// 0.1 Ω behind the knee, as such a device has backwards with its gate off
			// (data sheets show some 3 to 6 V at rated current, from memory).
			partner: Partner{Vf: 1.8, Charge: 5e-9, Lifetime: 0.3e-9, Transit: 0.2e-9, Cj: 0.6e-9, Vj: 8},
			vbus:    span{100, 450}, i: span{5, 30}, rgOn: span{8, 40}, rgOff: span{3, 20}, loop: span{2e-9, 12e-9},
			vgsOn: 6, vgsOff: -2, driver: 2e-9, first: 1.5e-6, gap: 0.8e-6, width: 0.6e-6,
			rates: []float64{2.5e9, 5e9, 10e9}, bandwidthV: span{500e6, 2e9}, currentBandwidth: span{400e6, 2e9},
		},
		"si": {
			device: Device{Vth: 3.8, K: 12, Theta: 0.15, R0: 40e-3, G: 10,
				Rgi: 2, Cgs: 3e-9, Cgd: 0.5e-9, Vj: 3, VjG: 6, Cds: 3e-9, Lcs: 0.8e-9},
			partner: Partner{Vf: 0.9, Charge: 0.5e-6, Lifetime: 25e-9, Transit: 10e-9, Cj: 1.5e-9, Vj: 3},
			vbus:    span{150, 450}, i: span{5, 50}, rgOn: span{10, 60}, rgOff: span{5, 30}, loop: span{10e-9, 60e-9},
			vgsOn: 12, vgsOff: 0, driver: 10e-9, first: 3e-6, gap: 2.5e-6, width: 2e-6,
			rates: []float64{1e9, 2.5e9}, bandwidthV: span{150e6, 600e6}, currentBandwidth: span{100e6, 600e6},
		},
		"igbt": {
			device: Device{Vth: 5.8, K: 6, Theta: 0.1, R0: 8e-3, G: 12, Gain: 0.6,
				Rgi: 2, Cgs: 12e-9, Cgd: 1.2e-9, Vj: 3, VjG: 5, Cds: 3e-9, Lcs: 1e-9},
			partner: Partner{Vf: 1.5, Charge: 2e-6, Lifetime: 60e-9, Transit: 25e-9, Cj: 2e-9, Vj: 3},
			vbus:    span{300, 800}, i: span{20, 150}, rgOn: span{5, 25}, rgOff: span{5, 25}, loop: span{20e-9, 80e-9},
			vgsOn: 15, vgsOff: -8, driver: 15e-9, first: 5e-6, gap: 5e-6, width: 3e-6, tails: span{0.15e-6, 0.4e-6},
			rates: []float64{0.625e9, 1.25e9}, bandwidthV: span{75e6, 500e6}, currentBandwidth: span{50e6, 500e6},
		},
	}
}

// Random returns shot n of a series: the same seed and n give the same shot.
// Family may be empty for one after the other.
func Random(kind string, seed, n uint64) Bench {
	if kind == "" {
		kind = Families()[n%uint64(len(Families()))]
	}
	f := families()[kind]
	r := rand.New(rand.NewPCG(seed, n))
	b := Bench{Family: kind, Shot: f.shot(r)}
	b.instrument(f, r)
	return b
}

// FamilyKnown tells whether there is a family of that name.
func FamilyKnown(kind string) bool { return slices.Contains(Families(), kind) }

func (f family) shot(r *rand.Rand) Shot {
	s := Shot{
		Vbus: f.vbus.in(r), I: f.i.in(r), CLoad: span{5e-12, 40e-12}.log(r), LLoop: f.loop.log(r), CBus: 200e-6,
		RgOn: f.rgOn.log(r), RgOff: f.rgOff.log(r), VgsOn: f.vgsOn, VgsOff: f.vgsOff, Driver: f.driver,
		Pulses: 2, Gap: f.gap, Width: f.width, Before: 0.5e-6, After: f.width, Tj: 298.15,
		Device: f.device, Partner: f.partner,
	}
	s.LLoad = f.first * s.Vbus / s.I
	c := &s.Device
	if f.tails.to > 0 {
		c.Tail = f.tails.log(r)
	}
	for _, x := range []*float64{&c.Cgs, &c.Cgd, &c.Cds, &c.K, &s.Partner.Charge, &s.Partner.Cj} {
		*x *= span{0.6, 1.5}.log(r)
	}
	// The damping ratio of the ringing with the device's capacitance at the bus
	// voltage, Z/(2·RDamp), losses in the devices aside.
	zeta := span{0.02, 0.15}.log(r)
	s.RDamp = math.Sqrt(s.LLoop/(junction(c.Cds, s.Vbus, c.Vj)+s.CLoad)) / (2 * zeta)
	s.RLoop = span{2e-3, 30e-3}.log(r)
	return s
}

// instrument draws what recorded the shot.
func (b *Bench) instrument(f family, r *rand.Rand) {
	s := b.Shot
	pick := func(x ...float64) float64 { return x[r.IntN(len(x))] }
	gain := span{0.002, 0.02}.log(r)
	rate := pick(f.rates...)
	bits := int(pick(8, 10, 12))
	channel := func(low, high, gainU, bandwidth, delayU float64) (Channel, Stated) {
		st := Stated{GainU: gainU, OffsetU: span{0.0005, 0.003}.log(r) * (high - low), DelayU: delayU}
		ch := Channel{
			Range: waveform.Range{Min: low, Max: high}, Bits: bits, Noise: span{0.0003, 0.002}.log(r) * (high - low),
			Bandwidth: bandwidth, GainError: st.GainU * r.NormFloat64(), Offset: st.OffsetU * r.NormFloat64(), Delay: st.DelayU * r.NormFloat64(),
		}
		if r.IntN(2) == 0 {
			ch.NoiseBW = min(bandwidth, rate/4)
		}
		return ch, st
	}
	b.Instrument.Fs = rate
	delay := span{0.1e-9, 5e-9}
	swing := s.VgsOn - s.VgsOff
	b.Instrument.V, b.V = channel(-0.3*s.Vbus, 2*s.Vbus, gain, f.bandwidthV.log(r), 0)
	b.Instrument.I, b.I = channel(-1.2*s.I, 3.5*s.I, span{0.002, 0.02}.log(r), f.currentBandwidth.log(r), delay.log(r))
	b.Instrument.Vgs, b.Vgs = channel(s.VgsOff-0.4*swing, s.VgsOn+0.4*swing, span{0.002, 0.02}.log(r), f.bandwidthV.log(r), delay.log(r))
}

// Beyond returns the instrument with what the budget of a measurement does not
// know of: the ringing of the voltage probe's ground lead, the droop of a coil,
// roll-offs that are not Gaussian, and a zero that is off after an overload.
func (b Bench) Beyond(seed, n uint64) Instrument {
	r := rand.New(rand.NewPCG(seed, n|1<<63))
	in := b.Instrument
	in.V.Beyond = Beyond{
		Poles: r.IntN(3), Lead: span{0.005, 0.05}.log(r), LeadF: span{60e6, 300e6}.log(r), LeadZeta: span{0.05, 0.3}.log(r),
		Overload: span{0.0005, 0.004}.log(r), Recovery: span{0.1e-6, 2e-6}.log(r),
	}
	in.I.Beyond = Beyond{Poles: r.IntN(3), Droop: span{100e-6, 5e-3}.log(r)}
	in.Vgs.Beyond = Beyond{Poles: r.IntN(3)}
	return in
}

// Waveforms solves the circuit, less finely than Shot.Waveforms: the answers are
// those of what is solved, whatever its error.
func (b Bench) Waveforms() *Waveforms { return b.Shot.waveforms(10 * relative) }

// Known returns the answers of Known by their values, with what the bench knows
// besides: the delay of the current channel and the inductance of the loop.
func (b Bench) Known(w *Waveforms) map[string]float64 {
	known := map[string]float64{
		"delay_id": b.Instrument.I.Delay - b.Instrument.V.Delay,
		"l_loop":   b.Shot.LLoop,
	}
	for key, a := range Known(w, b.Instrument).Values {
		known[key] = a.Value
	}
	return known
}

package reports

import (
	"errors"
	"math"

	"slewbook/dpt/result"
	"slewbook/waveform"
)

// The shots below are invented. halfBridge imitates a double-pulse record of
// 800 V and 60 A with plausible shapes: it serves to look at figures, and makes
// no claim about a device.

const (
	fixOff1 = 6.0e-6 // v at half the bus, first turn-off
	fixOn2  = 8.5e-6
	fixOff2 = 10.0e-6
)

// step rises from 0 to 1 around t0 within about that 10-90 % time.
func step(t, t0, rise float64) float64 { return (1 + math.Tanh((t-t0)/(0.455*rise))) / 2 }

func ring(t, t0, f, tau, amplitude float64) float64 {
	if t < t0 {
		return 0
	}
	return amplitude * math.Exp(-(t-t0)/tau) * math.Sin(2*math.Pi*f*(t-t0))
}

func fixV(t float64) float64 {
	v := 800.0
	v -= 797 * step(t, 0, 12e-9)
	v += 797 * step(t, fixOff1, 16e-9)
	v += ring(t, fixOff1+9e-9, 38e6, 60e-9, 190)
	v -= 797 * step(t, fixOn2, 14e-9)
	v -= 150 * math.Exp(-math.Pow((t-fixOn2+17e-9)/8e-9, 2))
	v += 797 * step(t, fixOff2, 16e-9)
	return v + ring(t, fixOff2+9e-9, 38e6, 60e-9, 230)
}

func fixI(t float64) float64 {
	first := 10e6 * math.Max(0, math.Min(t, fixOff1)) * (1 - step(t, fixOff1+20e-9, 14e-9))
	second := (60 + 10e6*math.Max(0, t-fixOn2)) * step(t, fixOn2-16e-9, 13e-9) * (1 - step(t, fixOff2+20e-9, 14e-9))
	recovery := 28 * math.Exp(-math.Pow((t-fixOn2-2e-9)/9e-9, 2))
	return first + second + recovery + ring(t, fixOff1+28e-9, 38e6, 50e-9, -9) + ring(t, fixOn2+14e-9, 52e6, 45e-9, 7)
}

func fixGate(t float64) float64 {
	g := -4.0
	for _, e := range []struct{ t, sign float64 }{{-30e-9, 1}, {fixOff1 - 45e-9, -1}, {fixOn2 - 40e-9, 1}, {fixOff2 - 45e-9, -1}} {
		if t > e.t {
			g += e.sign * 22 * (1 - math.Exp(-(t-e.t)/22e-9))
		}
	}
	return g + ring(t, fixOff1, 38e6, 40e-9, 1.5) + ring(t, fixOn2, 52e6, 40e-9, 1.5)
}

func sampled(name, unit string, t0, dt float64, n int, f func(float64) float64) *waveform.Trace {
	tr := &waveform.Trace{Name: name, Unit: unit, T0: t0, Dt: dt, Y: make([]float64, n)}
	noise := uint32(1)
	for k := range tr.Y {
		noise = noise*1664525 + 1013904223
		y := f(tr.Time(k))
		tr.Y[k] = y + (float64(noise>>8)/(1<<24)-0.5)*0.006*(math.Abs(y)+20)
	}
	return tr
}

// crossing returns the time at which the trace first passes y after from.
func crossing(tr *waveform.Trace, from, y float64) float64 {
	lo, _ := tr.Indices(waveform.Interval{From: from, To: math.Inf(1)})
	above := tr.Y[lo] > y
	for k := lo + 1; k < tr.Len(); k++ {
		if tr.Y[k] > y != above {
			return tr.Time(k-1) + tr.Dt*(y-tr.Y[k-1])/(tr.Y[k]-tr.Y[k-1])
		}
	}
	return math.NaN()
}

// halfBridge returns a measured shot with traces, sampled at dt.
func halfBridge(dt float64) *result.Shot {
	n := int(12.5e-6 / dt)
	v := sampled("CH1", "V", -1e-6, dt, n, fixV)
	i := sampled("CH2", "A", -1e-6+0.3*dt, dt, n, fixI)
	g := sampled("CH3", "V", -1e-6, dt, n, fixGate)
	gv := math.NaN()
	mark := func(role result.Role, tr *waveform.Trace, label string, from, y float64) result.Mark {
		t := crossing(tr, from, y)
		return result.Mark{Role: role, Label: label, T: t, Y: y}
	}
	peak := func(role result.Role, tr *waveform.Trace, label string, iv waveform.Interval) result.Mark {
		m := result.Mark{Role: role, Label: label, Y: math.Inf(-1)}
		lo, hi := tr.Indices(iv)
		for k := lo; k < hi; k++ {
			if tr.Y[k] > m.Y {
				m.T, m.Y = tr.XY(k)
			}
		}
		return m
	}
	near := func(t, before, after float64) waveform.Interval {
		return waveform.Interval{From: t - before, To: t + after}
	}
	off := result.EdgeMarks{Edge: result.TurnOff, Pulse: 1, T: crossing(v, fixOff1-40e-9, 400), Bus: 800, Load: 60, Name: "v10-i2"}
	off.Marks = []result.Mark{
		mark(result.Vgs, g, "gate 90 %", fixOff1-60e-9, -4+0.9*22),
		mark(result.Vds, v, "v 10 %", fixOff1-40e-9, 80),
		mark(result.Vds, v, "v 90 %", fixOff1-40e-9, 720),
		mark(result.Id, i, "i 90 %", fixOff1-10e-9, 54),
		mark(result.Id, i, "i 10 %", fixOff1-10e-9, 6),
		mark(result.Id, i, "i 2 %", fixOff1-10e-9, 1.2),
		peak(result.Vds, v, "v peak", near(fixOff1, 0, 200e-9)),
	}
	off.Window = waveform.Interval{From: off.Marks[1].T, To: off.Marks[5].T}
	on := result.EdgeMarks{Edge: result.TurnOn, Pulse: 2, T: crossing(v, fixOn2-8e-9, 400), Bus: 800, Load: 60, Name: "i10-v2"}
	on.Marks = []result.Mark{
		mark(result.Vgs, g, "gate 10 %", fixOn2-60e-9, -4+0.1*22),
		mark(result.Id, i, "i 10 %", fixOn2-60e-9, 6),
		mark(result.Id, i, "i 90 %", fixOn2-60e-9, 54),
		mark(result.Vds, v, "v 90 %", fixOn2-60e-9, 720),
		mark(result.Vds, v, "v 10 %", fixOn2-10e-9, 80),
		mark(result.Vds, v, "v 2 %", fixOn2-10e-9, 16),
		peak(result.Id, i, "i peak", near(fixOn2, 20e-9, 40e-9)),
	}
	on.Window = waveform.Interval{From: on.Marks[1].T, To: on.Marks[5].T}
	for _, e := range []*result.EdgeMarks{&off, &on} {
		p := power(v, i, near(e.T, 200e-9, 200e-9))
		e.Energy = runningEnergy(p, e.Window.From).At(e.Window.To)
	}
	quantity := func(key, unit string, value float64) result.Measurement {
		return result.Measurement{Key: key, Unit: unit, Value: value, U: gv, Over: waveform.Interval{From: gv, To: gv}}
	}
	return &result.Shot{
		Capture: "invented/800V_60A-01", Files: []string{"800V_60A-01.csv"}, SHA256: []string{"00112233445566778899aabbccddeeff"},
		Version: "test", Settings: "0123456789abcdef",
		Conditions: []result.Condition{
			{Key: "rg_on", Value: 5, Unit: "ohm", Text: "5 ohm"}, {Key: "rg_off", Value: 2.2, Unit: "ohm", Text: "2.2 ohm"},
			{Key: "tj", Value: 298.15, Unit: "K", Text: "25 °C"}, {Key: "device", Value: gv, Text: "invented device"},
		},
		Events: []result.Event{
			{Edge: result.TurnOn, Pulse: 1, T: 0}, {Edge: result.TurnOff, Pulse: 1, T: off.T},
			{Edge: result.TurnOn, Pulse: 2, T: on.T}, {Edge: result.TurnOff, Pulse: 2, T: fixOff2},
		},
		Quantities: []result.Measurement{
			quantity("v_bus_off", "V", 800.2), quantity("v_bus_on", "V", 800.1), quantity("i_off", "A", 60.02), quantity("i_on", "A", 60.01),
			quantity("e_off", "J", off.Energy), quantity("v_peak", "V", off.Marks[6].Y), quantity("e_on", "J", on.Energy),
			quantity("i_peak", "A", on.Marks[6].Y),
		},
		Corrections: []result.Correction{{Channel: result.Id, Kind: "zero", Value: -0.42, Unit: "A", EOn: 1e-6, EOff: -2e-6}},
		Edges:       []result.EdgeMarks{off, on},
		Warnings:    []waveform.Warning{{Code: waveform.FewBits, Channel: "id", Text: "The current uses 5 of 8 bits."}},
		Traces:      map[result.Role]*waveform.Trace{result.Vds: v, result.Id: i, result.Vgs: g},
	}
}

// failedShot returns a shot that could not be measured.
func failedShot() *result.Shot {
	return &result.Shot{
		Capture: "invented/broken", Files: []string{"broken.csv"}, SHA256: []string{"ff"}, Version: "test", Settings: "0123456789abcdef",
		Err: errors.New("no trace has the role id; found v in \"CH1\"; name the current's channel in the setup file"),
	}
}

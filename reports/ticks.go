package reports

import (
	"math"
	"strings"

	"gonum.org/v1/plot"

	"slewbook/waveform"
)

// ticks marks an axis in steps of 1, 2 or 5 times a power of ten of the
// displayed unit, at most Most of them. Data stay in SI base units; labels show
// (value - Zero) / Unit, all with the decimals of the step.
type ticks struct {
	Zero   float64 // value that is labelled 0, in base units
	Unit   float64 // size of the displayed unit in base units: 1e-9 for ns
	Most   int
	Labels bool
	Over   waveform.Interval // where there are ticks; all over the axis if it has no length
}

// Ticks implements plot.Ticker.
func (t ticks) Ticks(lo, hi float64) []plot.Tick {
	if t.Over.Duration() > 0 {
		lo, hi = max(lo, t.Over.From), min(hi, t.Over.To)
	}
	lo, hi = (lo-t.Zero)/t.Unit, (hi-t.Zero)/t.Unit
	step, decimals := TickStep((hi - lo) / float64(t.Most))
	var out []plot.Tick
	for k := math.Ceil(lo/step - 1e-9); k*step <= hi+1e-9*step; k++ {
		tick := plot.Tick{Value: t.Zero + k*step*t.Unit, Label: " "}
		if t.Labels {
			tick.Label = minus(decimal(k*step, decimals))
		}
		out = append(out, tick)
	}
	return out
}

// decadeTicks marks a logarithmic axis at 1 to 9 times each power of ten, with
// labels at 1, 2 and 5.
type decadeTicks struct {
	Unit float64 // size of the displayed unit in base units
}

// Ticks implements plot.Ticker.
func (t decadeTicks) Ticks(lo, hi float64) []plot.Tick {
	var out []plot.Tick
	for exp := int(math.Floor(math.Log10(lo / t.Unit))); math.Pow10(exp)*t.Unit <= hi; exp++ {
		for m := 1.0; m < 10; m++ {
			value := m * math.Pow10(exp) * t.Unit
			if value < lo*(1-1e-9) || value > hi*(1+1e-9) {
				continue
			}
			tick := plot.Tick{Value: value}
			if m == 1 || m == 2 || m == 5 {
				tick.Label = decimal(m*math.Pow10(exp), max(0, -exp))
			}
			out = append(out, tick)
		}
	}
	return out
}

// TickStep returns the smallest step of 1, 2 or 5 times a power of ten that is
// not below least, and the decimals that it needs.
func TickStep(least float64) (step float64, decimals int) {
	exp := int(math.Floor(math.Log10(least)))
	for {
		for _, m := range []float64{1, 2, 5} {
			if step = m * math.Pow10(exp); step >= least*(1-1e-9) {
				return step, max(0, -exp)
			}
		}
		exp++
	}
}

// minus sets a real minus sign, which is as wide as the digits around it.
func minus(txt string) string { return strings.ReplaceAll(txt, "-", "\u2212") }

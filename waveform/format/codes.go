package format

import (
	"fmt"
	"math"
	"strings"

	"slewbook/waveform"
)

// applyCodes turns converter codes into values where the preamble says how:
// value = (code - offset)·multiplier + zero, once. A preamble may also state a
// multiplier that the samples have seen already; samples that are no whole
// numbers, or whose steps are the multiplier itself, have.
func (t *table) applyCodes(c *waveform.Capture, channels []channel) *axisError {
	mult, ok := t.perChannel(meansMultiplier, len(channels))
	format := strings.ToLower(strings.Join(gather(t.fields, meansFormat), " "))
	said := containsAny(format, "code", "raw", "count", "adc", "int")
	if !ok {
		if _, there := find(t.fields, meansMultiplier); said && (there || containsAny(format, "code", "raw", "count", "adc")) {
			return &axisError{-1, "converter codes without a multiplier for each channel", "samples in volts or amperes", "export values instead of codes"}
		}
		for _, ch := range channels {
			if word := t.columns[ch.col].codes; word != "" {
				return &axisError{-1, fmt.Sprintf("samples of %s in %q without a scale", ch.name, word), "samples in volts or amperes", "export values instead of codes"}
			}
		}
		return nil
	}
	offset, offsetOK := t.perChannel(meansCodeOffset, len(channels))
	zero, zeroOK := t.perChannel(meansZero, len(channels))
	for i, tr := range c.Traces {
		if !said && t.columns[channels[i].col].codes == "" && !areCodes(tr.Y, mult[i]) {
			continue
		}
		_, states := find(t.fields, meansCodeOffset)
		_, statesZero := find(t.fields, meansZero)
		if states && !offsetOK || statesZero && !zeroOK {
			return &axisError{-1, "converter codes with an offset that is not stated for each channel", "an offset for each channel", "export values instead of codes"}
		}
		o, z := 0.0, 0.0
		if offsetOK {
			o = offset[i]
		}
		if zeroOK {
			z = zero[i]
		}
		for k, y := range tr.Y {
			tr.Y[k] = (y-o)*mult[i] + z
		}
		tr.Steps = append(tr.Steps, waveform.Step{Kind: "scale", Value: mult[i], Unit: tr.Unit, Text: fmt.Sprintf("converter codes: (code - %g) × %g + %g", o, mult[i], z)})
	}
	return nil
}

// perChannel returns the numbers of that meaning, one for each channel.
func (t *table) perChannel(m meant, n int) ([]float64, bool) {
	all := t.several(m, "")
	return all, len(all) == n && n > 0
}

// areCodes tells whether the samples can be codes whose step is one.
func areCodes(y []float64, mult float64) bool {
	prev, step := math.NaN(), 0.0
	for _, v := range y {
		if v-v != 0 {
			continue
		}
		if v != math.Trunc(v) {
			return false
		}
		if d := math.Abs(v - prev); d > 0 {
			step = gcd(step, d)
		}
		prev = v
	}
	return step == 1 || (step > 0 && step != mult && math.Mod(step, mult) != 0)
}

func gcd(a, b float64) float64 {
	for b != 0 {
		a, b = b, math.Mod(a, b)
	}
	return a
}

// ranges puts the input range on the traces where the preamble gives scale,
// divisions and position of each.
func (t *table) ranges(c *waveform.Capture) {
	n := len(c.Traces)
	scale, ok1 := t.perChannel(meansScale, n)
	divs, ok2 := t.perChannel(meansDivisions, n)
	pos, ok3 := t.perChannel(meansPosition, n)
	if !ok1 || !ok2 || !ok3 {
		return
	}
	for i, tr := range c.Traces {
		tr.Range = waveform.Range{Min: (-divs[i]/2 - pos[i]) * scale[i], Max: (divs[i]/2 - pos[i]) * scale[i]}
	}
}

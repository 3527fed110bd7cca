package unit

import (
	"math"
	"strconv"
	"testing"

	"pgregory.net/rapid"
)

func TestParse(t *testing.T) {
	for _, c := range []struct {
		text, unit string
		want       float64
	}{
		{"4.7 ohm", "ohm", 4.7},
		{"4.7 Ω", "ohm", 4.7},
		{"4.7 \u2126", "Ω", 4.7},
		{"4.7 kΩ", "ohm", 4700},
		{"4.7kohm", "ohm", 4700},
		{"50 ns", "s", 50e-9},
		{"1e-9 s", "s", 1e-9},
		{"2.5E+3 ps", "s", 2.5e-9},
		{"0.08 uS", "s", 80e-9},
		{"1.2 kV", "V", 1200},
		{"1.2 KV", "V", 1200},
		{"-5 V", "V", -5},
		{"+15 V", "V", 15},
		{".5 V", "V", 0.5},
		{"5. V", "V", 5},
		{"-12 mV", "V", -0.012},
		{"2 MV", "V", 2e6},
		{"0.5 %", "1", 0.005},
		{"300 ppm", "1", 300e-6},
		{"25 °C", "K", 298.15},
		{"25 degC", "K", 298.15},
		{"25 ℃", "K", 298.15},
		{"100°C", "K", 373.15},
		{"298 K", "K", 298},
		{"3 \u00b5J", "J", 3e-6},
		{"3 \u03bcJ", "J", 3e-6},
		{"3 uJ", "J", 3e-6},
		{"500 MHz", "Hz", 500e6},
		{"1.25 GS/s", "Hz", 1.25e9},
		{"625 MSa/s", "Hz", 625e6},
		{"20 nH", "H", 20e-9},
		{"100 pF", "F", 100e-12},
		{"52 nC", "C", 52e-9},
		{"10 W", "W", 10},
		{"12 kV/µs", "V/s", 12e9},
		{"12 V/ns", "V/s", 12e9},
		{"800 A/us", "A/s", 8e8},
		{"10 volts", "V", 10},
		{"3 microseconds", "s", 3e-6},
	} {
		got, err := Parse(c.text, c.unit)
		if err != nil || got != c.want {
			t.Errorf("Parse(%q, %q) = %v, %v; want %v", c.text, c.unit, got, err, c.want)
		}
	}
}

func TestParseErrors(t *testing.T) {
	for _, c := range []struct{ text, unit, want string }{
		{"5", "V", `5: expected a voltage with its unit, such as "5 V"`},
		{"20e-9", "H", `20e-9: expected an inductance with its unit, such as "20 nH"`},
		{"0.5", "1", `0.5: expected a percentage with its unit, such as "0.5 %"`},
		{"5 A", "V", `5 A: expected a voltage such as "5 V"`},
		{"25 C", "K", `25 C: expected a temperature such as "25 °C"`},
		{"25 °C", "V", `25 °C: expected a voltage such as "5 V"`},
		{"7 lightyears", "s", `7 lightyears: expected a time such as "50 ns"`},
		{"-300 °C", "K", `-300 °C: below absolute zero`},
		{"-1 K", "K", `-1 K: below absolute zero`},
		{"1e400 V", "V", `1e400 V: too large for a number`},
		{"", "V", `"": expected a number with its unit, such as "5 V"`},
		{"V", "V", `"V": expected a number with its unit, such as "5 V"`},
		{"4,7 ohm", "ohm", `"4,7 ohm": expected a number with its unit, such as "4.7 ohm"`},
		{"3k3 ohm", "ohm", `"3k3 ohm": expected a number with its unit, such as "4.7 ohm"`},
		{"1 000 V", "V", `"1 000 V": expected a number with its unit, such as "5 V"`},
		{"1.2.3 V", "V", `"1.2.3 V": expected a number with its unit, such as "5 V"`},
		{"0x10 V", "V", `"0x10 V": expected a number with its unit, such as "5 V"`},
		{"inf V", "V", `"inf V": expected a number with its unit, such as "5 V"`},
		{"NaN V", "V", `"NaN V": expected a number with its unit, such as "5 V"`},
		{"1e V", "V", `1e V: expected a voltage such as "5 V"`},
	} {
		got, err := Parse(c.text, c.unit)
		if err == nil || err.Error() != c.want {
			t.Errorf("Parse(%q, %q) = %v, %v; want error %s", c.text, c.unit, got, err, c.want)
		}
	}
}

// The prefixes are those of the SI brochure, 9th edition, table 7 (from
// memory).
func TestPrefixed(t *testing.T) {
	for _, c := range []struct {
		symbol string
		factor float64
		base   string
	}{
		{"V", 1, "V"}, {"mV", 1e-3, "V"}, {"kV", 1e3, "V"}, {"MV", 1e6, "V"},
		{"us", 1e-6, "s"}, {"µs", 1e-6, "s"}, {"\u03bcs", 1e-6, "s"}, {"ns", 1e-9, "s"}, {"ps", 1e-12, "s"}, {"fs", 1e-15, "s"},
		{"S", 1, "s"}, {"uS", 1e-6, "s"}, {"s", 1, "s"}, {"ms", 1e-3, "s"},
		{"kA", 1e3, "A"}, {"Amps", 1, "A"}, {"Ampere", 1, "A"}, {"amp", 1, "A"}, {"mAmp", 1e-3, "A"},
		{"Volts", 1, "V"}, {"VOLT", 1, "V"}, {"millivolt", 1e-3, "V"}, {"Kilovolts", 1e3, "V"},
		{"seconds", 1, "s"}, {"Second", 1, "s"}, {"sec", 1, "s"}, {"usec", 1e-6, "s"}, {"microseconds", 1e-6, "s"},
		{"Hz", 1, "Hz"}, {"MHz", 1e6, "Hz"}, {"GS/s", 1e9, "Hz"},
		{"K", 1, "K"}, {"mK", 1e-3, "K"}, {"mΩ", 1e-3, "ohm"}, {"Ohms", 1, "ohm"},
		{"H", 1, "H"}, {"uH", 1e-6, "H"}, {"F", 1, "F"}, {"C", 1, "C"}, {"W", 1, "W"}, {"J", 1, "J"},
		{"%", 1e-2, "1"}, {" V ", 1, "V"}, {"V/ns", 1e9, "V/s"}, {"kV/us", 1e9, "V/s"}, {"A/µs", 1e6, "A/s"},
	} {
		f, base, ok := Prefixed(c.symbol)
		if !ok || f != c.factor || base != c.base {
			t.Errorf("Prefixed(%q) = %v, %q, %v; want %v, %q", c.symbol, f, base, ok, c.factor, c.base)
		}
	}
	for _, s := range []string{"", "CH1", "°C", "div", "m", "k", "µ", "dB", "V/A", "Sequence", "Start", "a", "state", "mm", "1"} {
		if f, base, ok := Prefixed(s); ok {
			t.Errorf("Prefixed(%q) = %v, %q; want no unit", s, f, base)
		}
	}
}

func TestFormat(t *testing.T) {
	for _, c := range []struct {
		value  float64
		unit   string
		digits int
		want   string
	}{
		{560e-6, "J", 3, "560 µJ"},
		{9.32e-9, "s", 3, "9.32 ns"},
		{12.4e9, "V/s", 3, "12.4 kV/µs"},
		{-8.5e8, "V/s", 3, "-850 V/µs"},
		{3.21e9, "A/s", 3, "3.21 A/ns"},
		{450e6, "A/s", 3, "450 A/µs"},
		{0.0523, "1", 3, "5.23 %"},
		{math.NaN(), "V", 3, "-"},
		{math.NaN(), "K", 3, "-"},
		{math.Inf(1), "V", 3, "+Inf V"},
		{0, "V", 3, "0.00 V"},
		{0, "J", 1, "0 J"},
		{-5, "V", 2, "-5.0 V"},
		{800, "V", 4, "800.0 V"},
		{999.96, "V", 4, "1.000 kV"},
		{999.94, "V", 4, "999.9 V"},
		{0.99999e-6, "J", 3, "1.00 µJ"},
		{298.15, "K", 3, "25.0 °C"},
		{423.15, "K", 3, "150 °C"},
		{4.7, "ohm", 2, "4.7 Ω"},
		{0.0125, "Ω", 3, "12.5 mΩ"},
		{2e-18, "F", 1, "0.002 fF"},
		{3e15, "Hz", 1, "3000 THz"},
		{1234, "", 4, "1234"},
		{567, "V", 2, "570 V"},
	} {
		if got := Format(c.value, c.unit, c.digits); got != c.want {
			t.Errorf("Format(%v, %q, %d) = %q; want %q", c.value, c.unit, c.digits, got, c.want)
		}
	}
}

func TestScale(t *testing.T) {
	for _, c := range []struct {
		values []float64
		unit   string
		factor float64
		label  string
	}{
		{[]float64{50e-6, 100e-6, 3e-3}, "J", 1e6, "µJ"},
		{[]float64{math.NaN(), 2e-3, math.Inf(1), 0}, "J", 1e3, "mJ"},
		{[]float64{-800, -1200, -900}, "V", 1, "V"},
		{nil, "s", 1, "s"},
		{[]float64{math.NaN()}, "ohm", 1, "Ω"},
		{[]float64{0.05}, "1", 100, "%"},
		{[]float64{5e9, 2e10}, "V/s", 1e-9, "kV/µs"},
		{[]float64{298}, "K", 1, "K"},
	} {
		f, label := Scale(c.values, c.unit)
		if f != c.factor || label != c.label {
			t.Errorf("Scale(%v, %q) = %v, %q; want %v, %q", c.values, c.unit, f, label, c.factor, c.label)
		}
	}
}

func TestASCII(t *testing.T) {
	if got, want := ASCII("560 µJ 3 μs 4.7 kΩ 25 °C"), "560 uJ 3 us 4.7 kohm 25 degC"; got != want {
		t.Errorf("ASCII = %q; want %q", got, want)
	}
}

// What Format writes, Parse reads back, to the digits written.
func TestRoundTrip(t *testing.T) {
	units := []string{"V", "A", "s", "Hz", "ohm", "H", "F", "J", "C", "W", "V/s", "A/s", "1"}
	rapid.Check(t, func(t *rapid.T) {
		unit := rapid.SampledFrom(units).Draw(t, "unit")
		digits := rapid.IntRange(3, 12).Draw(t, "digits")
		v := rapid.Float64Range(0.1, 9.9).Draw(t, "v") * math.Pow10(rapid.IntRange(-14, 12).Draw(t, "exp"))
		for _, text := range []string{Format(v, unit, digits), ASCII(Format(v, unit, digits))} {
			got, err := Parse(text, unit)
			if err != nil {
				t.Fatal(err)
			}
			// Half a unit of the last digit: 5e-digits relative to a leading 1.
			if math.Abs(got-v) > 5.001*math.Pow10(-digits)*v {
				t.Fatalf("%v %s -> %q -> %v", v, unit, text, got)
			}
		}
	})
}

// A prefix moves the decimal point and nothing else: the value is the one that
// strconv gives for the same digits.
func TestPrefixRoundsOnce(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		digits := rapid.Uint64().Draw(t, "digits")
		got, err := Parse(strconv.FormatUint(digits, 10)+" ns", "s")
		want, _ := strconv.ParseFloat(strconv.FormatUint(digits, 10)+"e-9", 64)
		if err != nil || got != want {
			t.Fatalf("%d ns = %v, %v; want %v", digits, got, err, want)
		}
	})
}

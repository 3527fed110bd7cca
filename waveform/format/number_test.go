package format

import (
	"math"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// parse is scanDecimal and float on a whole text.
func parse(s string, point byte, shift int) (float64, bool) {
	d, n := scanDecimal([]byte(s), point)
	if n != len(s) || n == 0 {
		return 0, false
	}
	return d.float([]byte(s), point, shift), true
}

// checkFloat compares with strconv bit for bit, and tells whether s is a
// number.
func checkFloat(t interface{ Fatalf(string, ...any) }, s string) {
	want, err := strconv.ParseFloat(s, 64)
	got, ok := parse(s, '.', 0)
	if numErr, is := err.(*strconv.NumError); is && numErr.Err == strconv.ErrRange {
		err = nil // infinite in both
	}
	if ok != (err == nil) {
		t.Fatalf("%q: accepted %v, strconv says %v", s, ok, err)
	}
	if ok {
		checkScan(t, s, want)
	}
	if ok && math.Float64bits(got) != math.Float64bits(want) {
		t.Fatalf("%q: got %v (%x), want %v (%x)", s, got, math.Float64bits(got), want, math.Float64bits(want))
	}
}

// checkScan compares what the scanner reads, by guess and without one. It leaves
// to readRow what is no number.
func checkScan(t interface{ Fatalf(string, ...any) }, s string, want float64) {
	tb := table{dialect: dialect{eol: '\n', sep: ',', point: '.'}, columns: make([]column, 2)}
	text := []byte(strings.Repeat(s+","+s+"\n", 20))
	y := [][]float64{make([]float64, 20), make([]float64, 20)}
	sc := tb.newScanner(&chunk{stamps: tb.noStamps()}, y)
	if n := sc.read(text); limits(want, 0)-limits(want, 0) != 0 {
		if n > 0 {
			t.Fatalf("%q: the scanner takes what is no sample", s)
		}
	} else if n < len(text) || sc.row != 20 {
		t.Fatalf("%q: the scanner stops after %d rows", s, sc.row)
	}
	for k, v := range append(y[0][:sc.row], y[1][:sc.row]...) {
		if math.Float64bits(v) != math.Float64bits(want) {
			t.Fatalf("%q: the scanner gives %v, want %v, in cell %d", s, v, want, k)
		}
	}
}

func TestFloat(t *testing.T) {
	for _, s := range strings.Fields(`0 -0 +0 1 -1 1. .5 -.5 00012.5 -00.0000004448000 1e5 1E+05 1e-006
		-7.92402705985e-06 9007199254740991 9007199254740992 9007199254740993 1e22 1e23 9007199254740993e5
		18446744073709551615 18446744073709551616 123456789012345678901234567890 0.1234567890123456789012345
		1e308 1.8e308 1e309 -1e400 4.9e-324 2e-324 1e-400 0e999999999999 1e99999999999 2.2250738585072011e-308
		0.000000000000000000000000000001 1000000000000000000000000000000
		. - + e5 .e5 1e 1e+ 1e- 1..2 1.2.3 --1 1,5 abc 1x`) {
		checkFloat(t, s)
	}
	checkFloat(t, "")
}

func TestFloatProperty(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := rapid.Float64().Draw(t, "f")
		verb := rapid.SampledFrom([]byte("eEfg")).Draw(t, "verb")
		digits := rapid.IntRange(-1, 25).Draw(t, "digits")
		checkFloat(t, strconv.FormatFloat(f, verb, digits, 64))
	})
	rapid.Check(t, func(t *rapid.T) {
		checkFloat(t, rapid.StringMatching(`[-+]?[0-9]{0,25}\.?[0-9]{0,25}([eE][-+]?[0-9]{0,4})?`).Draw(t, "s"))
	})
}

// The decimal comma and the shift by a prefix change the text and nothing
// else.
func TestFloatCommaAndShift(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := rapid.StringMatching(`-?[0-9]{1,20}\.[0-9]{0,8}`).Draw(t, "mantissa")
		e := rapid.IntRange(-30, 30).Draw(t, "exp")
		shift := rapid.IntRange(-12, 9).Draw(t, "shift")
		want, _ := strconv.ParseFloat(s+"e"+strconv.Itoa(e+shift), 64)
		got, ok := parse(strings.Replace(s, ".", ",", 1)+"e"+strconv.Itoa(e), ',', shift)
		if !ok || math.Float64bits(got) != math.Float64bits(want) {
			t.Fatalf("%s e %d shifted by %d: got %v, want %v", s, e, shift, got, want)
		}
	})
}

func FuzzFloat(f *testing.F) {
	for _, s := range []string{"1.5e-9", "-0.000", "18446744073709551616e-20", "1e", "inf", "0x1p-2", "1_0"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		// strconv's words, hexadecimal and underscores are not sample numbers, and
		// it does not know Fortran's D.
		if strings.ContainsAny(s, "xXpP_iInNdD") {
			return
		}
		checkFloat(t, s)
	})
}

func BenchmarkFloat(b *testing.B) {
	for _, s := range []string{"-0.0390625", "-7.92402705985e-06", "-7.9240270598512345e-06"} {
		b.Run(s, func(b *testing.B) {
			text := []byte(s)
			for b.Loop() {
				d, _ := scanDecimal(text, '.')
				d.float(text, '.', 0)
			}
		})
	}
}

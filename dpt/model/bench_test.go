package model

import (
	"math"
	"reflect"
	"testing"

	"slewbook/dpt/result"
)

// The same seed and number give the same shot, others another.
func TestRandom(t *testing.T) {
	a := Random("", 1, 5)
	if !reflect.DeepEqual(a, Random("", 1, 5)) {
		t.Error("one seed and number gave two shots")
	}
	if reflect.DeepEqual(a, Random("", 1, 9)) || reflect.DeepEqual(a, Random("", 2, 5)) {
		t.Error("another seed or number gave the same shot")
	}
}

// Each family switches: both edges have their levels, and times and overshoots
// are those of such devices (common practice, no source): edges of 1 to 200 ns,
// a tail of up to a microsecond.
func TestFamilies(t *testing.T) {
	for n, family := range Families() {
		b := Random(family, 3, uint64(n))
		known := b.Known(b.Waveforms())
		for key, most := range map[string]float64{"t_rise_v": 200e-9, "t_fall_i": 1e-6, "t_rise_i": 200e-9, "t_fall_v": 200e-9} {
			if x := known[key]; !(x > 1e-9 && x < most) {
				t.Errorf("%s: %s is %g s", family, key, x)
			}
		}
		if x := known["v_overshoot"]; !(x > 0 && x < 1) {
			t.Errorf("%s: v_overshoot is %g", family, x)
		}
		near(t, family+" l_load", known["l_load"], b.Shot.LLoad, 0)
	}
}

// A bipolar device goes on conducting when its channel is off: in the gap the
// current falls by e in one time constant of the tail.
func TestTail(t *testing.T) {
	s := Random("igbt", 1, 0).Shot
	w := s.Waveforms()
	off := w.Commands[1].T
	at := off + 0.8e-6
	near(t, "tail", w.I(at+s.Device.Tail)/w.I(at), math.Exp(-1), 0.02)
}

// The errors of the instruments are drawn from what is stated of them: their
// root mean square over 400 shots is within 4 standard deviations, 14 %, of it.
func TestStated(t *testing.T) {
	const n = 400
	sum := map[string]float64{}
	for k := range uint64(n) {
		b := Random("", 7, k)
		for role, c := range map[result.Role]struct {
			ch Channel
			st Stated
		}{result.Vds: {b.Instrument.V, b.V}, result.Id: {b.Instrument.I, b.I}} {
			sum[string(role)+" gain"] += math.Pow(c.ch.GainError/c.st.GainU, 2)
			sum[string(role)+" offset"] += math.Pow(c.ch.Offset/c.st.OffsetU, 2)
		}
		sum["delay"] += math.Pow(b.Instrument.I.Delay/b.I.DelayU, 2)
	}
	for name, s := range sum {
		near(t, name, math.Sqrt(s/n), 1, 0.14)
	}
}

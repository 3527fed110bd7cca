package dpt_test

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"slewbook/dpt"
	"slewbook/dpt/condition"
	"slewbook/dpt/result"
	"slewbook/waveform/wavetest"
)

// statedChannels returns channels of stated gain and zero, so that nothing else counts.
func statedChannels(gainV, gainI, offsetV float64) map[result.Role]dpt.Channel {
	ch := func(gain, offset float64) dpt.Channel {
		return dpt.Channel{Channel: condition.AsRead(), Bandwidth: 50e9, GainU: gain, OffsetU: offset, DelayU: 5e-9}
	}
	return map[result.Role]dpt.Channel{result.Vds: ch(gainV, offsetV), result.Id: ch(gainI, 1e-6), result.Vgs: ch(1e-6, 1e-6)}
}

func measureWith(t *testing.T, d wavetest.DoublePulse, ch map[result.Role]dpt.Channel) result.Shot {
	t.Helper()
	opt := dpt.Defaults()
	opt.Channels = ch
	opt.AllWindows = true
	shot, err := dpt.Measure(d.Capture(0.1e-9, -lead+wavetest.OffGrid(0.1e-9, 3)), opt)
	if err != nil {
		t.Fatal(err)
	}
	return shot
}

// u of an energy from gains of 2 % and 3 % that are independent is 3.61 % (GUM,
// JCGM 100, 5.1.2; the numbers: derived); the times do not feel a
// gain (Hale & Wang, IEEE TIM, abstract). The delay, which an ideal shot without
// ringing does not tell, is stated to 5 ns and dominates.
func TestBudgetOfGains(t *testing.T) {
	d := wavetest.Example()
	d.LLoad = 1e-3
	shot, exact := measureWith(t, d, statedChannels(0.02, 0.03, 1e-6)), measureWith(t, d, statedChannels(1e-9, 1e-9, 1e-6))
	for _, key := range []string{"e_on", "e_off"} {
		m := shot.Quantity(key)
		rel := math.Sqrt(m.U*m.U-math.Pow(exact.Quantity(key).U, 2)) / m.Value
		if math.Abs(rel-0.0361) > 2e-4 {
			t.Errorf("%s: the gains make %.5f of it, expected 0.0361", key, rel)
		}
		if !strings.HasPrefix(m.Dominant, "delay of id") {
			t.Errorf("%s is dominated by %q", key, m.Dominant)
		}
	}
	for key, want := range map[string]float64{"v_bus_off": 0.02, "v_peak": 0.02, "i_off": 0.03, "i_on": 0.03, "dvdt_off": 0.02, "didt_on": 0.03} {
		m := shot.Quantity(key)
		if got := m.U / m.Value; math.Abs(got-want) > 0.05*want {
			t.Errorf("%s: u is %.4f of it, expected %.4f (%s)", key, got, want, m.Dominant)
		}
	}
	for _, key := range []string{"t_rise_v", "t_fall_i", "t_rise_i", "t_fall_v"} {
		if m := shot.Quantity(key); m.U > 0.002*m.Value {
			t.Errorf("%s: u is %.4f of it with gains off by per cents (%s)", key, m.U/m.Value, m.Dominant)
		}
	}
	for _, a := range shot.Assumed {
		// No key of the set-up tells these.
		if !strings.HasPrefix(a, "delay of vgs") && !strings.HasPrefix(a, "forward voltage") {
			t.Errorf("assumed %q although the set-up tells everything", a)
		}
	}
}

// A zero of the voltage off by δ moves its peak by δ, and stretches the 10-90 %
// time of a straight edge as it stretches the bus that the levels refer to: by
// 1 % for 8 V on 800 V.
func TestBudgetOfOffset(t *testing.T) {
	d := wavetest.Example()
	d.LLoad = 1e-3
	small, large := measureWith(t, d, statedChannels(1e-6, 1e-6, 0.5)), measureWith(t, d, statedChannels(1e-6, 1e-6, 8))
	m, before := large.Quantity("v_peak"), small.Quantity("v_peak")
	if more := math.Sqrt(m.U*m.U - before.U*before.U); math.Abs(more-8) > 0.3 {
		t.Errorf("u of v_peak has %g V more for a zero known to 8 V than for one to 0.5 V", more)
	}
	if a, b := small.Quantity("t_rise_v").U, large.Quantity("t_rise_v").U; !(b > a) || math.Abs(b/large.Quantity("t_rise_v").Value-0.01) > 1e-3 {
		t.Errorf("u of t_rise_v is %g s for 0.5 V and %g s for 8 V", a, b)
	}
}

// Fewer bits and more noise widen what depends on the instants of crossings.
func TestBudgetDependsOnTheCapture(t *testing.T) {
	d := wavetest.Example()
	good := measureWith(t, d, statedChannels(1e-6, 1e-6, 1e-6))
	d.ChV.Noise, d.ChI.Noise, d.Seed = 4, 0.1, 5
	noisy := measureWith(t, d, statedChannels(1e-6, 1e-6, 1e-6))
	for _, key := range []string{"t_rise_v", "t_fall_i", "v_peak", "i_peak", "v_bus_off"} {
		a, b := good.Quantity(key), noisy.Quantity(key)
		if !(b.U > 2*a.U) {
			t.Errorf("%s: u is %g without and %g with noise (%s)", key, a.U, b.U, b.Dominant)
		}
	}
}

// The same capture gives the same digits and the same words every time (maps
// have no order; sums and notes must).
func TestSameEveryTime(t *testing.T) {
	c, _ := simulatedShot(t, "bench-sic")
	reading := func() string {
		shot, err := dpt.Measure(c, dpt.Defaults())
		if err != nil {
			t.Fatal(err)
		}
		text := fmt.Sprintf("%q %v\n", shot.Assumed, shot.Warnings)
		for _, m := range shot.Quantities {
			text += fmt.Sprintf("%s %x %x %q %v\n", m.Key, m.Value, m.U, m.Dominant, m.Warnings)
		}
		return text
	}
	first := reading()
	for range 5 {
		if again := reading(); again != first {
			t.Fatalf("measured again:\n%s\nfirst:\n%s", again, first)
		}
	}
}

// A delay moves e_on and e_off against each other: it is in the budget of e_tot
// with what it does to their sum, and the gains with the sum of their effects.
func TestTotalKeepsSigns(t *testing.T) {
	shot := measureWith(t, wavetest.Example(), statedChannels(0.02, 0.03, 1))
	effect := func(key, source string) float64 {
		for _, c := range shot.Quantity(key).Budget {
			if c.Source == source {
				return c.Effect
			}
		}
		t.Fatalf("%s has no line %q", key, source)
		return 0
	}
	for _, source := range []string{"gain of vds", "gain of id", "delay of id"} {
		on, off, total := effect("e_on", source), effect("e_off", source), effect("e_tot", source)
		if math.Abs(total-on-off) > 1e-12*math.Abs(on) {
			t.Errorf("%s: %g and %g make %g", source, on, off, total)
		}
	}
	if on, off := effect("e_on", "delay of id"), effect("e_off", "delay of id"); on*off >= 0 {
		t.Errorf("a delay moves e_on by %g and e_off by %g; expected opposite signs", on, off)
	}
	on, off, total := effect("e_on", "sampling"), effect("e_off", "sampling"), effect("e_tot", "sampling")
	if math.Abs(total/math.Hypot(on, off)-1) > 1e-12 {
		t.Errorf("sampling: %g and %g make %g", on, off, total)
	}
}

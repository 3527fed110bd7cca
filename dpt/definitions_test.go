package dpt_test

import (
	"math"
	"slices"
	"strings"
	"testing"

	"slewbook/dpt"
	"slewbook/dpt/result"
	"slewbook/waveform"
	"slewbook/waveform/wavetest"
)

// idealRamps is full current, then full voltage, without inductance: ½VIt is
// 320 µJ at either edge. The load hardly moves the current.
func idealRamps() *waveform.Capture {
	d := wavetest.Example()
	d.LLoop, d.LLoad = 0, 1e-3
	return d.Capture(0.1e-9, -lead+wavetest.OffGrid(0.1e-9, 3))
}

func define(t *testing.T, c *waveform.Capture, set func(o *dpt.Options) error) result.Shot {
	t.Helper()
	opt := dpt.Defaults()
	if err := set(&opt); err != nil {
		t.Fatal(err)
	}
	shot, err := dpt.Measure(c, opt)
	if err != nil {
		t.Fatal(err)
	}
	return shot
}

func everyDefinition(o *dpt.Options) error {
	o.AllDefinitions, o.SpanFrom, o.SpanTo = true, 100, 300
	return nil
}

// Every definition of every column is read on an ordinary shot with its partner.
func TestEveryDefinition(t *testing.T) {
	shot := define(t, recovering().Capture(0.2e-9, -lead), everyDefinition)
	for _, d := range result.Definitions() {
		key := d.Key + "." + d.Name
		if shot.Quantity(key) == nil {
			t.Errorf("%s is not told", key)
		}
	}
}

// poleEdge makes the turn-off of v a single-pole one of the time constant tau,
// from 5 ns behind where it began.
func poleEdge(tau float64) *waveform.Capture {
	d := wavetest.Example()
	d.LLoop, d.LLoad = 0, 1e-3
	c := d.Capture(0.1e-9, -lead+wavetest.OffGrid(0.1e-9, 3))
	events := d.Answers(1, 2).Events
	off := slices.IndexFunc(events, func(e wavetest.Event) bool { return !e.On })
	from, to := events[off].T-d.OffTv/2, events[off+1].T-100e-9
	v := c.Traces[0]
	for k := range v.Y {
		if t := v.Time(k) - from; t > 0 && v.Time(k) < to {
			v.Y[k] = d.V * (1 - math.Exp(-t/tau))
		}
	}
	return c
}

// A single-pole edge takes 2.1972 τ from 10 to 90 %, 1.3863 τ from 20 to 80 %,
// 0.4055 τ from 40 to 60 % (derived: ln 9, ln 4, ln 1.5). A
// straight edge has one slope whatever the stretch, and the full swing over its
// 10-90 % time is 1.25 times that: 2 kV in 37 ns called 55 V/ns (54.1), where the
// average is 43 V/ns (43.2; a fact of the trade, common practice, no source).
func TestSlopeDefinitions(t *testing.T) {
	const tau, bus = 40e-9, 800.0
	shot := define(t, poleEdge(tau), everyDefinition)
	for key, want := range map[string]float64{
		"t_rise_v.10-90": math.Log(9) * tau, "t_rise_v.20-80": math.Log(4) * tau,
		"dvdt_off.10-90": 0.8 * bus / (2.1972 * tau), "dvdt_off.20-80": 0.6 * bus / (1.3863 * tau), "dvdt_off.40-60": 0.2 * bus / (0.4055 * tau),
		"dvdt_off.swing-over-10-90": bus / (2.1972 * tau),
		"dvdt_off.span":             200 / (tau * math.Log((bus-100)/(bus-300))),
	} {
		// 0.1 % for levels and the grid.
		if got := shot.Quantity(key).Value; math.Abs(got/want-1) > 1e-3 {
			t.Errorf("%s is %.5g, expected %.5g", key, got, want)
		}
	}
	straight := define(t, idealRamps(), everyDefinition)
	for key, want := range map[string]float64{"dvdt_on": 40e9, "dvdt_off": 40e9, "didt_on": 1e9, "didt_off": 1e9} {
		for name, factor := range map[string]float64{"10-90": 1, "20-80": 1, "40-60": 1, "max": 1, "swing-over-10-90": 1.25} {
			// 0.5 % for the load's ramp.
			if got := straight.Quantity(key + "." + name).Value; math.Abs(got/(factor*want)-1) > 5e-3 {
				t.Errorf("%s.%s is %.5g, expected %.5g", key, name, got, factor*want)
			}
		}
	}
	if got := 0.8 * 2000 / 37e-9; math.Abs(got-43.2e9) > 0.1e9 || math.Abs(1.25*got-54.1e9) > 0.1e9 {
		t.Errorf("2 kV in 37 ns is %.4g and %.4g", got, 1.25*got)
	}
}

// The current rings about zero behind the turn-off; where each rule ends the
// window is found on the closed form of the ring, on a grid a hundred times finer.
func TestWindowEnds(t *testing.T) {
	const amplitude, f, decay = 3.0, 20e6, 40e-9
	d := wavetest.Example()
	d.LLoop, d.LLoad = 0, 1e-3
	c := d.Capture(0.1e-9, -lead+wavetest.OffGrid(0.1e-9, 3))
	events := d.Answers(1, 2).Events
	off := slices.IndexFunc(events, func(e wavetest.Event) bool { return !e.On })
	fallen, to := events[off].T+d.OffTv/2+d.OffTi, events[off+1].T-500e-9
	ring := func(t float64) float64 {
		return -amplitude * math.Sin(2*math.Pi*f*(t-fallen)) * math.Exp(-(t-fallen)/decay)
	}
	i := c.Traces[1]
	for k := range i.Y {
		if x := i.Time(k); x > fallen && x < to {
			i.Y[k] += ring(x)
		}
	}
	level, last, dwell := 0.02*d.I, math.NaN(), math.NaN()
	const kept, step = 100e-9, 1e-12
	below := fallen - 0.4e-9 // i falls through 2 % that long before its end
	for x := fallen; x < fallen+400e-9; x += step {
		switch a, b := ring(x), ring(x+step); {
		case a > level && b <= level:
			below, last = x, x
		case a <= level && b > level && math.IsNaN(dwell) && x-below >= kept:
			dwell = below
		}
	}
	if math.IsNaN(dwell) {
		dwell = below
	}
	shot := define(t, c, func(o *dpt.Options) error {
		return o.SelectDefinition("e_off", "v10-i2.last")
	})
	end := func(s result.Shot) float64 { return s.Quantity("e_off").Over.To }
	if got := end(shot); math.Abs(got-last) > 0.1e-9 {
		t.Errorf("the last crossing is at %.6g, expected %.6g", got, last)
	}
	if def := shot.Quantity("e_off").Definition; def != "v10-i2.last" {
		t.Errorf("the definition is told as %q", def)
	}
	shot = define(t, c, func(o *dpt.Options) error { return o.SelectDefinition("e_off", "v10-i2.dwell-100ns") })
	if got := end(shot); math.Abs(got-dwell) > 0.1e-9 {
		t.Errorf("the crossing that is kept is at %.6g, expected %.6g", got, dwell)
	}
	first := define(t, c, func(*dpt.Options) error { return nil })
	if got := end(first); math.Abs(got-(fallen-0.4e-9)) > 0.1e-9 {
		t.Errorf("the first crossing is at %.6g, expected %.6g", got, fallen-0.4e-9)
	}
	settled := define(t, c, func(o *dpt.Options) error { return o.SelectDefinition("e_off", "v10-i2.settled") })
	if got := end(settled); !(got > end(first)) || got > fallen+200e-9 {
		t.Errorf("the integral is settled at %.6g", got)
	}
	fixed := define(t, c, func(o *dpt.Options) error { return o.SelectDefinition("e_off", "fixed-0.3us") })
	if got := fixed.Quantity("e_off").Over.Duration(); math.Abs(got-300e-9) > 1e-15 {
		t.Errorf("the fixed window lasts %g", got)
	}
	// The gap lasts 2 µs: a longer window would hold the next turn-on as well.
	for _, name := range []string{"fixed-2us", "v10-i10+2us"} {
		long := define(t, c, func(o *dpt.Options) error { return o.SelectDefinition("e_off", name) })
		if q := long.Quantity("e_off"); !math.IsNaN(q.Value) || len(q.Warnings) == 0 || q.Warnings[0].Code != waveform.NotInRecord {
			t.Errorf("%s, into the next edge: %g, %v", name, q.Value, q.Warnings)
		}
	}
}

// What one more period of the ringing adds to E_off is ∫ v·i over it, here of the
// closed forms of both rings, summed on a grid a hundred times finer.
func TestEnergyPerRing(t *testing.T) {
	const f, decay = 20e6, 200e-9
	d := wavetest.Example()
	d.LLoop, d.LLoad = 0, 1e-3
	d.RingV = wavetest.Ring{Amplitude: 40, F: f, Zeta: 0.04}
	c := d.Capture(0.1e-9, -lead+wavetest.OffGrid(0.1e-9, 3))
	events := d.Answers(1, 2).Events
	off := slices.IndexFunc(events, func(e wavetest.Event) bool { return !e.On })
	fallen, to := events[off].T+d.OffTv/2+d.OffTi, events[off+1].T-200e-9
	ring := func(t float64) float64 {
		return math.Exp(-(t - fallen) / decay)
	}
	i, v := c.Traces[1], c.Traces[0]
	for k := range i.Y {
		if x := i.Time(k); x > fallen && x < to {
			i.Y[k] += ring(x)
		}
	}
	shot := define(t, c, func(*dpt.Options) error { return nil })
	e := shot.Quantity("e_off")
	const step = 1e-12
	want := 0.0
	for x := e.Over.To; x < e.Over.To+1/f; x += step {
		if x < fallen {
			want += step * d.V * d.I * (fallen - x) / d.OffTi
			continue
		}
		want += step * v.At(x) * ring(x)
	}
	// 1 % for the fit's frequency and the first samples.
	if math.Abs(e.PerRing/want-1) > 0.01 {
		t.Errorf("one more period adds %.4g J, expected %.4g J", e.PerRing, want)
	}
}

// A set moves what it names, and the result says so.
func TestDefinitionSet(t *testing.T) {
	c := idealRamps()
	plain := define(t, c, func(*dpt.Options) error { return nil })
	set := define(t, c, func(o *dpt.Options) error { return o.SelectSet("igbt-iec") })
	for key, def := range map[string]string{"e_off": "g90-i2", "e_on": "g10-v2"} {
		if got := set.Quantity(key).Definition; got != def {
			t.Errorf("%s has the definition %q, expected %q", key, got, def)
		}
	}
	// Gate 10 % to i 10 %, 3 ns and 15 + 2 ns behind the gate's first move.
	if got := set.Quantity("td_on").Value; math.Abs(got-14e-9) > 0.1e-9 {
		t.Errorf("t_d(on) is %g, expected 14 ns", got)
	}
	// What compares results goes by these words.
	for key, unlike := range map[string]bool{"td_off": true, "e_off": true, "e_on": true, "t_rise_v": false} {
		if a, b := plain.Quantity(key).Definition, set.Quantity(key).Definition; (a != b) != unlike {
			t.Errorf("%s is told as %q and %q", key, a, b)
		}
	}
}

func TestDefinitionRefused(t *testing.T) {
	var o dpt.Options
	for key, name := range map[string]string{"e_off": "i10-v10", "dvdt_on": "30-70", "v_peak": "10-90", "e_offf": "v10-i2"} {
		if err := o.SelectDefinition(key, name); err == nil {
			t.Errorf("%s takes the definition %s", key, name)
		}
	}
	if err := o.SelectSet("iec"); err == nil || !strings.Contains(err.Error(), "mosfet-iec") {
		t.Errorf("the set iec: %v", err)
	}
}

package dpt_test

import (
	"math"
	"strings"
	"testing"

	"slewbook/dpt"
	"slewbook/dpt/condition"
	"slewbook/dpt/result"
	"slewbook/waveform"
	"slewbook/waveform/unit"
	"slewbook/waveform/wavetest"
)

// channels names the traces of a wavetest capture, with nothing to be applied.
func channels() map[result.Role]dpt.Channel {
	out := map[result.Role]dpt.Channel{}
	for role, name := range map[result.Role]string{result.Vds: "Vds", result.Id: "Id", result.Vgs: "Vgs"} {
		out[role] = dpt.Channel{Source: name, Channel: condition.AsRead(), Bandwidth: math.NaN()}
	}
	return out
}

// with changes the channel of a role.
func with(role result.Role, change func(ch *dpt.Channel)) dpt.Options {
	opt := dpt.Defaults()
	opt.Channels = channels()
	ch := opt.Channels[role]
	change(&ch)
	opt.Channels[role] = ch
	return opt
}

func mustMeasure(t *testing.T, c *waveform.Capture, opt dpt.Options) result.Shot {
	t.Helper()
	if err := opt.Validate(); err != nil {
		t.Fatal(err)
	}
	shot, err := dpt.Measure(c, opt)
	if err != nil {
		t.Fatal(err)
	}
	return shot
}

// the correction of a kind; it fails without one.
func corrected(t *testing.T, shot result.Shot, kind string) result.Correction {
	t.Helper()
	for _, c := range shot.Corrections {
		if c.Kind == kind {
			return c
		}
	}
	t.Fatalf("no correction %q in %+v", kind, shot.Corrections)
	return result.Correction{}
}

func value(t *testing.T, shot result.Shot, key string) float64 {
	t.Helper()
	q := shot.Quantity(key)
	if q == nil {
		t.Fatalf("%s was not read", key)
	}
	return q.Value
}

// sensed returns the example shot with its current as a sensor shows it, and the
// shot with the current as it is.
func sensed(d wavetest.DoublePulse, sensor func(y []float64, dt float64)) (seen, truth *waveform.Capture) {
	const dt = 0.5e-9
	truth, seen = d.Capture(dt, -lead), d.Capture(dt, -lead)
	sensor(seen.Trace("Id").Y, dt)
	return seen, truth
}

// wantRestored checks that a correction is needed, brings the shot back to what
// it is without the sensor's error, states its effect on the energies, and goes
// away with its key.
func wantRestored(t *testing.T, seen, truth *waveform.Capture, opt dpt.Options, kind string, tol float64) {
	t.Helper()
	plain := dpt.Defaults()
	plain.Channels = channels()
	want, left, got := mustMeasure(t, truth, plain), mustMeasure(t, seen, plain), mustMeasure(t, seen, opt)
	changed := false
	for _, key := range []string{"e_on", "e_off", "i_on", "i_off", "t_rise_i", "t_fall_i", "l_load"} {
		w, l, g := value(t, want, key), value(t, left, key), value(t, got, key)
		changed = changed || math.Abs(l/w-1) > 5*tol
		if !(math.Abs(g/w-1) <= tol) {
			t.Errorf("%s is %.5g, without the sensor's error %.5g", key, g, w)
		}
	}
	if !changed {
		t.Error("the sensor's error changes nothing: the test cannot fail")
	}
	c := corrected(t, got, kind)
	if c.Channel != result.Id || math.IsNaN(c.EOn) || math.IsNaN(c.EOff) {
		t.Errorf("correction %+v", c)
	}
	// The effect is told for the window as it is now.
	q := got.Quantity("e_on")
	before := waveform.ProductIntegral(got.Traces[result.Vds], zeroed(seen.Trace("Id"), got), q.Over)
	if d := q.Value - before; math.Abs(d-c.EOn) > 1e-3*q.Value {
		t.Errorf("e_on changes by %g J, the correction says %g J", d, c.EOn)
	}
	if got.Raw[result.Id].Y[0] != seen.Trace("Id").Y[0] || len(got.Raw[result.Id].Steps) != 0 {
		t.Error("the raw trace is not the file's")
	}
	if got.Settings == left.Settings {
		t.Error("the hash of the settings does not tell them apart")
	}
	for _, c := range left.Corrections {
		if c.Kind == kind {
			t.Errorf("corrected without being asked: %+v", c)
		}
	}
}

// zeroed takes the zero of a shot off a trace.
func zeroed(tr *waveform.Trace, shot result.Shot) *waveform.Trace {
	for _, c := range shot.Corrections {
		if c.Kind == "zero" {
			return condition.Zero(tr, c.Value, c.Over)
		}
	}
	return tr
}

// A shunt with L/R = 5 ns reads i + (L/R)·di/dt. The example's edges are straight
// ramps of some ten nanoseconds.
func TestShuntInAShot(t *testing.T) {
	const tau = 5e-9
	d := wavetest.Example()
	d.ChI.Offset = 0.4
	seen, truth := sensed(d, func(y []float64, dt float64) {
		for k := 0; k+1 < len(y); k++ {
			y[k] += tau * (y[k+1] - y[k]) / dt // the slope ahead: a lag of the corners by up to a sample
		}
	})
	opt := with(result.Id, func(ch *dpt.Channel) { ch.ShuntR, ch.ShuntL = 10e-3, tau*10e-3 })
	// The slope ahead moves the current by half a sample of 0.5 ns: 1 % of e_on.
	wantRestored(t, seen, truth, opt, "shunt", 0.015)
}

// A coil with a time constant of 50 µs loses a share of t/τ of the current.
func TestDroopInAShot(t *testing.T) {
	const tau = 50e-6
	d := wavetest.Example()
	d.ChI.Offset = 0.4
	seen, truth := sensed(d, func(y []float64, dt float64) {
		// y' + y/τ = i' by the trapezoid rule, exact to (dt/τ)²; the zero is the
		// instrument's and does not droop.
		const zero = 0.4
		out, last := 0.0, 0.0
		for k := range y {
			i := y[k] - zero
			out = (out*(1-dt/(2*tau)) + i - last) / (1 + dt/(2*tau))
			last, y[k] = i, out+zero
		}
	})
	opt := with(result.Id, func(ch *dpt.Channel) { ch.Droop = tau })
	wantRestored(t, seen, truth, opt, "droop", 1e-4)
}

// Where the record begins with the device conducting there is nothing to
// integrate from: the droop stays, and that is said.
func TestDroopNeedsAQuietStart(t *testing.T) {
	opt := with(result.Id, func(ch *dpt.Channel) { ch.Droop = 50e-6 })
	d := wavetest.Example()
	whole := d.Capture(0.5e-9, -lead)
	events := d.Answers(1, 2).Events
	c := cut(whole, events[0].T+0.3e-6, whole.Traces[0].Span().To)
	shot := mustMeasure(t, c, opt)
	const want = "the droop of id (channel.id.droop, 50 µs) is left in: to integrate it the record must begin with the device blocking, and the zero must be read there; as it is the current reads low, by about 1 % for each 500 ns that it has flowed"
	found := false
	for _, w := range shot.Warnings {
		found = found || w.Code == waveform.NoBaseline && w.Text == want
	}
	if !found {
		t.Errorf("no such warning in %v", shot.Warnings)
	}
	for _, c := range shot.Corrections {
		if c.Kind == "droop" {
			t.Errorf("corrected all the same: %+v", c)
		}
	}
}

// A filter lengthens edges, keeps them in place, is told with its bandwidth,
// and the bandwidth warning knows of it.
func TestFilterInAShot(t *testing.T) {
	c := wavetest.Example().Capture(0.5e-9, -lead)
	plain := mustMeasure(t, c, with(result.Vds, func(*dpt.Channel) {}))
	got := mustMeasure(t, c, with(result.Vds, func(ch *dpt.Channel) { ch.Filter, ch.Bandwidth = "gauss 20 MHz", 200e6 }))
	for k := range plain.Events {
		if d := got.Events[k].T - plain.Events[k].T; math.Abs(d) > 1e-9 {
			t.Errorf("event %d moves by %g s", k, d)
		}
	}
	if a, b := value(t, plain, "t_rise_v"), value(t, got, "t_rise_v"); !(b > a) {
		t.Errorf("t_rise_v is %g s, %g s without the filter", b, a)
	}
	f := corrected(t, got, "filter")
	if f.Value != 20e6 || f.Unit != "Hz" || f.Channel != result.Vds || math.IsNaN(f.EOn) || f.EOn == 0 || f.Text != got.Traces[result.Vds].Steps[0].Text {
		t.Errorf("correction %+v", f)
	}
	text := ""
	for _, w := range got.Quantity("t_rise_v").Warnings {
		if w.Code == waveform.Bandwidth {
			text = w.Text
		}
	}
	// 20 and 200 MHz are 19.9 MHz: 17.07 ns.
	if !strings.Contains(text, "17.1 ns at 19.9 MHz") {
		t.Errorf("bandwidth warning %q", text)
	}
	_, err := dpt.Measure(c, with(result.Vds, func(ch *dpt.Channel) { ch.Filter = "gauss 3 GHz" }))
	const want = `vds (trace "Vds"): filter "gauss 3 GHz": filters: bandwidth of 3 GHz: expected more than 0 and less than 1000 MHz, half the sampling rate of one sample in 5e-10 s; change channel.vds.filter in the set-up file`
	if err == nil || err.Error() != want {
		t.Errorf("error %v\nexpected %s", err, want)
	}
}

// A filter must not hide that the converter had too few steps.
func TestFilterKeepsFewBits(t *testing.T) {
	d := bench()
	d.ChV.Bits = 5
	c := d.Capture(1e-9, -lead)
	for _, words := range []string{"", "gauss 100 MHz"} {
		shot := mustMeasure(t, c, with(result.Vds, func(ch *dpt.Channel) { ch.Filter = words }))
		found := false
		for _, w := range shot.Warnings {
			found = found || w.Code == waveform.FewBits && w.Channel == string(result.Vds)
		}
		if !found {
			t.Errorf("filter %q: no few-bits in %v", words, shot.Warnings)
		}
	}
}

// With v behind 50 MHz and i behind 200 MHz, matching slows i and leaves v.
func TestMatchBandwidth(t *testing.T) {
	c := wavetest.Example().Capture(0.5e-9, -lead)
	opt := with(result.Vds, func(ch *dpt.Channel) { ch.Bandwidth = 50e6 })
	id := opt.Channels[result.Id]
	id.Bandwidth = 200e6
	opt.Channels[result.Id] = id
	plain := mustMeasure(t, c, opt)
	opt.MatchBandwidth = true
	got := mustMeasure(t, c, opt)
	m := corrected(t, got, "match-bandwidth")
	// 1/√(1/50² - 1/200²) = 51.64 MHz.
	if m.Channel != result.Id || math.Abs(m.Value-51.64e6) > 0.005e6 || math.IsNaN(m.EOff) {
		t.Errorf("correction %+v", m)
	}
	if a, b := value(t, plain, "t_rise_v"), value(t, got, "t_rise_v"); a != b {
		t.Errorf("the slower channel was changed: t_rise_v %g s, %g s before", b, a)
	}
	if a, b := value(t, plain, "t_rise_i"), value(t, got, "t_rise_i"); !(b > a) {
		t.Errorf("t_rise_i is %g s, %g s before", b, a)
	}
	if plain.Settings == got.Settings {
		t.Error("the hash of the settings does not tell them apart")
	}
	id.Bandwidth = 50.01e6
	opt.Channels[result.Id] = id
	if m := corrected(t, mustMeasure(t, c, opt), "match-bandwidth"); !math.IsNaN(m.Value) || m.Text != "vds has 50 MHz and id 50.01 MHz, too alike to show in these samples: nothing was done" {
		t.Errorf("correction %+v", m)
	}
}

// Every key of a correction is in the hash of the settings.
func TestSettingsKnowCorrections(t *testing.T) {
	c := wavetest.Example().Capture(2e-9, -lead)
	seen := map[string]string{}
	for name, change := range map[string]func(ch *dpt.Channel){
		"nothing":  func(*dpt.Channel) {},
		"filter":   func(ch *dpt.Channel) { ch.Filter = "mean 3" },
		"filter 2": func(ch *dpt.Channel) { ch.Filter = "mean 5" },
		"shunt":    func(ch *dpt.Channel) { ch.ShuntR, ch.ShuntL = 10e-3, 1e-9 },
		"shunt r":  func(ch *dpt.Channel) { ch.ShuntR, ch.ShuntL = 11e-3, 1e-9 },
		"shunt l":  func(ch *dpt.Channel) { ch.ShuntR, ch.ShuntL = 10e-3, 2e-9 },
		"droop":    func(ch *dpt.Channel) { ch.Droop = 50e-6 },
		"droop 2":  func(ch *dpt.Channel) { ch.Droop = 51e-6 },
	} {
		s := mustMeasure(t, c, with(result.Id, change)).Settings
		if other, ok := seen[s]; ok {
			t.Errorf("%s and %s have the same settings", name, other)
		}
		seen[s] = name
	}
}

func TestCorrectionOptions(t *testing.T) {
	match := with(result.Vds, func(ch *dpt.Channel) { ch.Bandwidth = 1e8 })
	match.MatchBandwidth = true
	for want, opt := range map[string]dpt.Options{
		"channel.id: a shunt needs its resistance and its inductance; got 0 ohm and 1e-09 H":                           with(result.Id, func(ch *dpt.Channel) { ch.ShuntL = 1e-9 }),
		"channel.id: shunt of -1 ohm and 1e-09 H, droop of 0 s: expected more than zero, or none":                      with(result.Id, func(ch *dpt.Channel) { ch.ShuntR, ch.ShuntL = -1, 1e-9 }),
		"channel.vgs: a shunt, but the role is a voltage":                                                              with(result.Vgs, func(ch *dpt.Channel) { ch.ShuntR, ch.ShuntL = 1, 1e-9 }),
		"channel.vds: droop is taken out of id only":                                                                   with(result.Vds, func(ch *dpt.Channel) { ch.Droop = 1e-5 }),
		`channel.vds: filter "boxcar 9": "boxcar": expected mean, median, sg, gauss or butter`:                         with(result.Vds, func(ch *dpt.Channel) { ch.Filter = "boxcar 9" }),
		"matching the bandwidths of vds and id needs both, but that of id is not given; expected channel.id.bandwidth": match,
	} {
		if err := opt.Validate(); err == nil || err.Error() != want {
			t.Errorf("error %v\nexpected %s", err, want)
		}
	}
}

// The zero's text says what its drift is worth: a sensor whose zero has moved by
// 0.5 A after the shot, over the window's ∫v dt.
func TestDriftIsWorth(t *testing.T) {
	d := wavetest.Example()
	c := d.Capture(0.5e-9, -lead)
	id := c.Trace("Id")
	last := d.Answers(1, 2).Events[len(d.Answers(1, 2).Events)-1].T
	lo, hi := id.Indices(waveform.Interval{From: last + 0.1e-6, To: id.Span().To})
	for k := lo; k < hi; k++ {
		id.Y[k] += 0.5
	}
	shot := mustMeasure(t, c, with(result.Id, func(*dpt.Channel) {}))
	text := corrected(t, shot, "zero").Text
	worth := func(key string) string {
		return unit.Format(-0.5*waveform.Integral(shot.Traces[result.Vds], shot.Quantity(key).Over), "J", 4)
	}
	want := "it is 0.5 A off that; a zero off by as much changes e_off by " + worth("e_off") + "; a zero off by as much changes e_on by " + worth("e_on")
	if !strings.HasSuffix(text, want) {
		t.Errorf("%q, expected at its end %q", text, want)
	}
}

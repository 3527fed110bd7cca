package dpt_test

import (
	"encoding/json"
	"math"
	"testing"

	"github.com/google/go-cmp/cmp"

	"slewbook/dpt"
	"slewbook/dpt/result"
	"slewbook/waveform"
	"slewbook/waveform/wavetest"
)

// staged is a shot of 600 V and 40 A whose turn-off has two levels of the gate: from 18
// to 8 V, a hold of 800 ns, then to -4 V; and a rise of v with a hold of 40 ns at 240 V, at
// 4 V/ns before and 9 V/ns behind it, with 40 A all the while.
func staged() (v, i, g wavetest.Piecewise) {
	v, i = wavetest.Piecewise{}, wavetest.Piecewise{}
	v.Add(math.Inf(-1), 600)
	v.Add(1e-6, 600, -600/30e-9)
	v.Add(1.03e-6, 0)
	v.Add(5e-6, 0, 4e9)
	v.Add(5.06e-6, 240)
	v.Add(5.1e-6, 240, 9e9)
	v.Add(5.14e-6, 600)
	i.Add(math.Inf(-1), 0)
	i.Add(1e-6, 0, 10e6)
	i.Add(5e-6, 40)
	i.Add(5.14e-6, 40, -40/20e-9)
	i.Add(5.16e-6, 0)
	g.Add(math.Inf(-1), -4)
	g.Add(0.95e-6, -4, 22/20e-9)
	g.Add(0.97e-6, 18)
	g.Add(4e-6, 18, -10/20e-9)
	g.Add(4.02e-6, 8)
	g.Add(4.82e-6, 8, -12/60e-9)
	g.Add(4.88e-6, -4)
	return v, i, g
}

// A turn-off in stages is one event with labelled phases, and each has its slope and
// energy: in closed form 4 and 9 V/ns, and V·I·t/2 of the ramps.
func TestStagedEdgeHasPhases(t *testing.T) {
	v, i, g := staged()
	shot, err := dpt.Measure(shotOf("staged", 9000, &v, &i, &g), dpt.Defaults())
	if err != nil || len(shot.Events) != 2 {
		t.Fatal(err, shot.Events)
	}
	want := []struct {
		label         string
		from, to      float64
		dvdt, e, etol float64
	}{
		{"step 1", 4.0044e-6, 4.0194e-6, 0, 0, 1e-9},
		{"gate held at 8.00 V", 4.0194e-6, 4.824e-6, 0, 0, 1e-9},
		{"step 2", 4.824e-6, 5.055e-6, 220 / 231e-9, 40 * 220 * 220 / 2 / 4e9, 3e-5},
		{"v held at 240 V", 5.0555e-6, 5.1005e-6, 16 / 44.5e-9, 239 * 40 * 44.5e-9, 5e-6},
		{"step 3", 5.1005e-6, 5.158e-6, 342 / 56e-9, 0, 1},
	}
	if len(shot.Phases) != len(want) {
		t.Fatalf("%d phases: %+v", len(shot.Phases), shot.Phases)
	}
	for k, p := range shot.Phases {
		w := want[k]
		if p.Edge != result.TurnOff || p.Label != w.label || math.Abs(p.Over.From-w.from) > 3e-9 || math.Abs(p.Over.To-w.to) > 3e-9 {
			t.Errorf("phase %d is %q from %g to %g, expected %+v", k, p.Label, p.Over.From, p.Over.To, w)
		}
		dvdt, e := p.Quantities[0], p.Quantities[2]
		if math.Abs(dvdt.Value-w.dvdt) > 0.02*w.dvdt+3e8 || math.Abs(e.Value-w.e) > w.etol {
			t.Errorf("%s: dv/dt %g, e %g, expected %g and %g", p.Label, dvdt.Value, e.Value, w.dvdt, w.e)
		}
		if k > 1 && (!(e.U > 0) || !(dvdt.U > 0)) {
			t.Errorf("%s: u of dv/dt %g, of e %g", p.Label, dvdt.U, e.U)
		}
	}
	// They are written and read back as they are.
	line, err := json.Marshal(&shot)
	if err != nil {
		t.Fatal(err)
	}
	var back result.Shot
	if err := json.Unmarshal(line, &back); err != nil {
		t.Fatal(err)
	}
	again, err := json.Marshal(&back)
	if err != nil || len(back.Phases) != len(want) {
		t.Fatalf("%v, %d phases read back", err, len(back.Phases))
	}
	if diff := cmp.Diff(string(line), string(again)); diff != "" {
		t.Errorf("written again (-first +second):\n%s", diff)
	}
}

// A turn-off whose gate takes 600 ns, against 30 ns at the turn-on, is a soft one.
func TestSoftTurnOffHasPhases(t *testing.T) {
	d := wavetest.Example()
	d.DelayOff = 300e-9
	c := d.Capture(0.5e-9, -lead)
	off := d.Answers(1, 2).Events[1].T - d.OffTv/2 - d.DelayOff
	g := c.Trace("Vgs")
	k, hi := g.Indices(waveform.Interval{From: off, To: off + 600e-9})
	for ; k < hi; k++ {
		g.Y[k] = d.VHigh + (d.VLow-d.VHigh)*(g.Time(k)-off)/600e-9
	}
	shot, err := dpt.Measure(c, dpt.Defaults())
	if err != nil || len(shot.Phases) != 3 {
		t.Fatalf("%v %+v", err, shot.Phases)
	}
	// Gate 90 % at 60 ns, v 10 % at 302 ns, v 90 % at 318 ns; then i to 10 % in 20 ns.
	for k, want := range []struct {
		label    string
		duration float64
	}{{"soft: delay", 242e-9}, {"soft: v rises", 16e-9}, {"soft: i falls", 20e-9}} {
		if p := shot.Phases[k]; p.Label != want.label || math.Abs(p.Over.Duration()-want.duration) > 0.5e-9 {
			t.Errorf("phase %d is %q of %g s, expected %+v", k, p.Label, p.Over.Duration(), want)
		}
	}
}

// An edge on a plateau of the gate, or with the dip of L·di/dt, is not staged.
func TestOrdinaryEdgeHasNoPhases(t *testing.T) {
	plain := wavetest.Example()
	plain.LLoop = 60e-9
	gate, _ := gated()
	for name, c := range map[string]*waveform.Capture{"dip": plain.Capture(0.5e-9, -lead), "bench": bench().Capture(0.5e-9, -lead), "plateau": gate} {
		shot, err := dpt.Measure(c, dpt.Defaults())
		if err != nil || len(shot.Phases) > 0 {
			t.Errorf("%s: %v %+v", name, err, shot.Phases)
		}
	}
}

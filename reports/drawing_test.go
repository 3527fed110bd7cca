package reports

import (
	"math"
	"testing"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"pgregory.net/rapid"

	"slewbook/waveform"
)

// A peak one sample wide keeps its height and its time, wherever it lies and
// however far the trace is decimated.
func TestDecimateKeepsPeaks(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(2, 50000).Draw(t, "n")
		tr := &waveform.Trace{T0: -1e-6, Dt: 1e-10, Y: make([]float64, n)}
		for k := range tr.Y {
			tr.Y[k] = math.Sin(float64(k) / 50)
		}
		up, down := rapid.IntRange(0, n-1).Draw(t, "up"), rapid.IntRange(0, n-1).Draw(t, "down")
		tr.Y[down], tr.Y[up] = -7, 9
		columns := rapid.IntRange(1, 300).Draw(t, "columns")
		points, found := 0, 0
		last := math.Inf(-1)
		for _, line := range decimate(tr, tr.Span(), columns) {
			for _, pt := range line {
				if pt.X <= last {
					t.Fatalf("time runs back at %v", pt)
				}
				last = pt.X
				points++
				if pt.X == tr.Time(up) && pt.Y == 9 || pt.X == tr.Time(down) && pt.Y == -7 {
					found++
				}
			}
		}
		if want := 2; up != down && found != want || up == down && found != 1 {
			t.Fatalf("%d peaks drawn", found)
		}
		if points > 4*columns+4 {
			t.Fatalf("%d points for %d columns", points, columns)
		}
	})
}

// Missing and over-range samples break the line and never become points.
func TestDecimateBreaksAtGaps(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	tr := &waveform.Trace{Dt: 1, Y: []float64{0, 1, nan, 3, inf, inf, 6, 7}}
	lines := decimate(tr, tr.Span(), 100)
	if len(lines) != 3 || len(lines[0]) != 2 || len(lines[1]) != 1 || len(lines[2]) != 2 {
		t.Errorf("got %v", lines)
	}
	over, under := overRange(tr, tr.Span(), 100)
	if len(over) != 1 || over[0] != (waveform.Interval{From: 4, To: 5}) {
		t.Errorf("over range: %v", over)
	}
	if len(under) != 0 {
		t.Errorf("under range: %v", under)
	}
}

// Simultaneous linear ramps: the energy is V·I·T/6 (handbook classic, here by
// elementary integration of V·x·I·(1-x)); i lags half a sample behind v's grid.
func TestRunningEnergyOfRamps(t *testing.T) {
	const bus, load, rise, dt = 800.0, 50.0, 20e-9, 0.1e-9
	ramp := func(x float64) float64 { return min(max(x/rise, 0), 1) }
	v := sampled0(-10e-9, dt, 600, func(t float64) float64 { return bus * ramp(t) })
	i := sampled0(-10.05e-9, dt, 601, func(t float64) float64 { return load * (1 - ramp(t)) })
	e := runningEnergy(power(v, i, v.Span()), -0.03e-9)
	if got, want := e.At(30e-9), bus*load*rise/6; math.Abs(got/want-1) > 1e-4 { // trapezia: (dt/rise)²/2 = 1.3e-5
		t.Errorf("got %v J, want %v J", got, want)
	}
	// Up to a quarter of the ramp: x²/2 - x³/3 at x = 1/4 is 5/192.
	if got, want := e.At(rise/4), bus*load*rise*5/192; math.Abs(got/want-1) > 1e-3 {
		t.Errorf("after a quarter: got %v J, want %v J", got, want)
	}
}

func sampled0(t0, dt float64, n int, f func(float64) float64) *waveform.Trace {
	tr := &waveform.Trace{T0: t0, Dt: dt, Y: make([]float64, n)}
	for k := range tr.Y {
		tr.Y[k] = f(tr.Time(k))
	}
	return tr
}

// A sample that is missing leaves no energy after it, rather than a wrong one.
func TestRunningEnergyStopsAtAGap(t *testing.T) {
	p := &waveform.Trace{Dt: 1, Y: []float64{1, 1, math.NaN(), 1, 1}}
	e := runningEnergy(p, 0)
	if e.Y[1] != 1 || !math.IsNaN(e.Y[2]) || !math.IsNaN(e.Y[4]) {
		t.Errorf("got %v", e.Y)
	}
}

func TestTicks(t *testing.T) {
	labels := func(ticks []plot.Tick) (out []string) {
		for _, k := range ticks {
			out = append(out, k.Label)
		}
		return out
	}
	for _, c := range []struct {
		ticks  ticks
		lo, hi float64
		want   []string
	}{
		{ticks{Unit: 1e-9, Most: 5, Labels: true}, -50e-9, 100e-9, []string{"−50", "0", "50", "100"}},
		{ticks{Zero: 5e-6, Unit: 1e-9, Most: 5, Labels: true}, 4.9995e-6, 5.0005e-6, []string{"−0.4", "−0.2", "0.0", "0.2", "0.4"}},
		{ticks{Unit: 1e-6, Most: 4, Labels: true}, 0, 1, []string{"0", "500000", "1000000"}},
		{ticks{Unit: 1, Most: 3}, 0, 2, []string{" ", " ", " "}},
	} {
		got := labels(c.ticks.Ticks(c.lo, c.hi))
		if len(got) != len(c.want) {
			t.Errorf("%+v: %q, want %q", c.ticks, got, c.want)
			continue
		}
		for i := range got {
			if got[i] != c.want[i] {
				t.Errorf("%+v: %q, want %q", c.ticks, got, c.want)
			}
		}
	}
}

func TestSubscripts(t *testing.T) {
	h := lettering{text.Plain{Fonts: plot.DefaultTextHandler.Cache()}, subs}
	for in, want := range map[string][]Run{
		"E_on = 5 µJ":      {{"E", false}, {"on", true}, {"\u00a0=\u00a05\u00a0µJ", false}},
		"t_d(off)":         {{"t", false}, {"d(off)", true}, {"", false}},
		"(v = V_bus)":      {{"(v\u00a0=\u00a0V", false}, {"bus", true}, {")", false}},
		"dv/dt_off,max":    {{"dv/dt", false}, {"off,max", true}, {"", false}},
		"ends with a bar_": {{"ends\u00a0with\u00a0a\u00a0bar_", false}},
	} {
		got := h.runs(in)
		if len(got) != len(want) {
			t.Errorf("%q: %+v", in, got)
			continue
		}
		for i := range got {
			if got[i] != want[i] {
				t.Errorf("%q: %+v", in, got)
			}
		}
	}
	face := font.From(font.Font{Typeface: "Liberation", Variant: "Sans"}, 10)
	sub, _, _ := h.Box("E_on", face)
	h.Subscripts = plain
	full, _, _ := h.Box("E_on", face)
	if !(sub < full) || len(h.runs("shot_01")) != 1 {
		t.Errorf("widths %v and %v; a plain text must keep its bar", sub, full)
	}
}

func TestPlacerAvoidsCurvesAndLabels(t *testing.T) {
	area := vg.Rectangle{Max: vg.Point{X: 200, Y: 100}}
	p := placer{area: area, lines: [][]vg.Point{{{X: 0, Y: 50}, {X: 200, Y: 50}}}}
	size := vg.Point{X: 30, Y: 8}
	var boxes []vg.Rectangle
	for range 4 {
		box := p.place(vg.Point{X: 100, Y: 50}, size)
		if box.Min.Y < 50 && box.Max.Y > 50 {
			t.Errorf("%v lies on the curve", box)
		}
		for _, other := range boxes {
			if box.Min.X < other.Max.X && other.Min.X < box.Max.X && box.Min.Y < other.Max.Y && other.Min.Y < box.Max.Y {
				t.Errorf("%v lies on %v", box, other)
			}
		}
		boxes = append(boxes, box)
	}
	corner := p.place(vg.Point{X: 199, Y: 99}, size)
	if corner.Max.X > 200 || corner.Max.Y > 100 {
		t.Errorf("%v leaves the panel", corner)
	}
}

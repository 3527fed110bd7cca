package reports

import (
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"slewbook/dpt/result"
	"slewbook/waveform"
)

// moved returns the invented shot with its voltages and currents scaled and its
// time axis shifted.
func moved(name string, v, i, shift float64) *result.Shot {
	s := halfBridge(0.8e-9)
	s.Capture = name
	scale := func(tr *waveform.Trace, k float64) {
		tr.T0 += shift
		for n := range tr.Y {
			tr.Y[n] *= k
		}
	}
	scale(s.Traces[result.Vds], v)
	scale(s.Traces[result.Id], i)
	scale(s.Traces[result.Vgs], 1)
	for k := range s.Edges {
		e := &s.Edges[k]
		e.T, e.Bus, e.Load = e.T+shift, e.Bus*v, e.Load*i
		e.Window = waveform.Interval{From: e.Window.From + shift, To: e.Window.To + shift}
		for n := range e.Marks {
			e.Marks[n].T += shift
		}
	}
	return s
}

// campaign has three buses with two repeats each, spread by 1 %, at two
// currents.
func campaign() []Cut {
	var cuts []Cut
	for k, v := range []float64{0.5, 0.505, 0.75, 0.745, 1, 1.01} {
		for _, i := range []float64{0.5, 1} {
			cuts = append(cuts, Cuts(moved(fmt.Sprintf("v%d_i%g", k, i), v, i, float64(k)*0.37e-9))...)
		}
	}
	return cuts
}

// valueAt interpolates what is drawn at time t.
func valueAt(lines []cutCurve, t float64) float64 {
	for _, l := range lines {
		for k := 1; k < len(l.t); k++ {
			t0, t1, y0, y1 := float64(l.t[k-1]), float64(l.t[k]), float64(l.y[k-1]), float64(l.y[k])
			if t0 <= t && t < t1 {
				return y0 + (y1-y0)*(t-t0)/(t1-t0)
			}
		}
	}
	return math.NaN()
}

// At time 0 the voltage is half the bus (turn-off) or the current half the load
// current (turn-on), whatever the trigger of the shot was.
func TestOverlaysAreAligned(t *testing.T) {
	for k, shift := range []float64{0, 0.31e-9, -7.77e-6, 3.3e-6} {
		scale := 1 - 0.1*float64(k)
		for _, c := range Cuts(moved("x", scale, scale, shift)) {
			role, want := result.Vds, 400*scale
			if c.Edge == result.TurnOn {
				role, want = result.Id, 30*scale
			}
			if c.missing != "" {
				t.Fatal(c.missing)
			}
			if got := valueAt(c.curves[role], 0); math.Abs(got/want-1) > 1e-3 { // float32 times on a steep edge
				t.Errorf("shift %g, %s: %g at time 0, want %g", shift, c.Edge, got, want)
			}
			if c.view.From > -10e-9 || c.view.To < 10e-9 {
				t.Errorf("the view %v does not hold the edge", c.view)
			}
		}
	}
	s := moved("no bus", 1, 1, 0)
	s.Edges[0].Bus, s.Edges[1].Load = math.NaN(), 1e6
	for _, c := range Cuts(s) {
		if c.missing == "" {
			t.Errorf("%s is aligned without a crossing", c.Edge)
		}
	}
}

func TestOverlayGroups(t *testing.T) {
	cuts := campaign()
	for _, c := range []struct {
		name string
		want []string
	}{
		{"bus", []string{"turn-off-bus-01", "turn-off-bus-02", "turn-on-bus-01", "turn-on-bus-02"}},
		{"current", []string{"turn-off-current-01", "turn-off-current-02", "turn-off-current-03", "turn-on-current-01", "turn-on-current-02", "turn-on-current-03"}},
		{"rg", nil},
		{"temperature", nil},
	} {
		figures, err := DrawOverlays(cuts, c.name, screen())
		if err != nil {
			t.Fatal(err)
		}
		if got := each(figures, func(f *Figure) string { return f.Part }); !slices.Equal(got, c.want) {
			t.Errorf("%s: %q, want %q", c.name, got, c.want)
		}
	}
	figures, err := DrawOverlays(cuts, "bus", screen())
	if err != nil {
		t.Fatal(err)
	}
	labels := each(figures[0].legend, func(e legendEntry) string { return e.Text })
	if want := []string{"V = 402 V", "V = 598 V", "V = 804 V"}; !slices.Equal(labels, want) {
		t.Errorf("legend %q, want %q", labels, want)
	}
	if n := len(figures[0].panels[0].Curves); n != 6 {
		t.Errorf("%d curves, want 6", n)
	}
	if _, err := DrawOverlays(cuts, "bias", screen()); err == nil || err.Error() != `overlay "bias": expected bus, current, rg, temperature, all` {
		t.Errorf("bias: %v", err)
	}
}

// The gate resistor of the other edge, and a planned bus that contradicts what
// was measured, take no part.
func TestOverlayConditions(t *testing.T) {
	s := moved("x", 1, 1, 0)
	s.Conditions = []result.Condition{
		{Key: "rg_on", Value: 5, Unit: "ohm"}, {Key: "rg_off", Value: 2.2, Unit: "ohm"}, {Key: "tj", Value: 423.15, Unit: "K"},
		{Key: "v_bus", Value: 400, Unit: "V"}, {Key: "i_load", Value: 62, Unit: "A"}, {Key: "kind", Value: math.NaN(), Text: "mosfet"},
	}
	for k, want := range []string{"V = 800 V, I = 62 A, R_G,off = 2.2 Ω, T_j = 150 °C", "V = 800 V, I = 62 A, R_G,on = 5 Ω, T_j = 150 °C"} {
		c := Cuts(s)[k]
		if got := strings.Join(each([]int{busKind, currentKind, rgKind, temperatureKind}, c.conditionLabel), ", "); got != want {
			t.Errorf("%s: %q, want %q", c.Edge, got, want)
		}
		if c.others != "kind mosfet" {
			t.Errorf("others: %q", c.others)
		}
	}
}

// A stray shot among many must show, and a cell counts each shot once.
func TestDensityCounts(t *testing.T) {
	line := func(y float32) []cutCurve { return []cutCurve{{[]float32{-1, 0, 1}, []float32{y, y, y}}} }
	var group []Cut
	for k := range 50 {
		y := float32(1)
		if k == 17 {
			y = 5
		}
		group = append(group, Cut{curves: map[result.Role][]cutCurve{result.Vds: line(y)}})
	}
	steps := densitySteps(50)
	if !slices.Equal(steps, []int{1, 3, 5, 13, 25, 38}) {
		t.Errorf("steps %v", steps)
	}
	d := newDensity(group, result.Vds, waveform.Interval{From: -1, To: 1}, steps)
	for k, column := range d.Count {
		if column[0] != 49 || column[densityRows-1] != 1 {
			t.Fatalf("column %d: %d and %d shots, want 49 and 1", k, column[0], column[densityRows-1])
		}
	}
	// A step fills the cells between its ends in its column.
	d = newDensity([]Cut{{curves: map[result.Role][]cutCurve{result.Vds: {{[]float32{-1, 0.001, 0.0011, 1}, []float32{0, 0, 1, 1}}}}}}, result.Vds, waveform.Interval{From: -1, To: 1}, []int{1})
	if got := d.runs(densityColumns/2, 1); len(got) != 1 || got[0] != [2]int{0, densityRows} {
		t.Errorf("runs %v", got)
	}
}

// The order of the palette survives in grey: luminance falls steadily, and the
// palest line still stands out on white by 2.5 to 1.
func TestRampInGrey(t *testing.T) {
	if c := contrast(ramp(0), densityColor(0, 6)); c < 1.3 {
		t.Errorf("first shades: contrast %.2f", c)
	}
	white := luminance(ramp(0)) + 0.05
	if 1.05/white < 2.5 {
		t.Errorf("contrast of the palest line on white: %.2f", 1.05/white)
	}
	for n := 2; n <= mostLines; n++ {
		for k := 1; k < n; k++ {
			a, b := overlayPen(k-1, n), overlayPen(k, n)
			if luminance(b.Color) >= luminance(a.Color) {
				t.Errorf("line %d of %d is not darker than the one before", k, n)
			}
			if slices.Equal(a.Dash, b.Dash) {
				t.Errorf("lines %d and %d of %d have the same dashes", k-1, k, n)
			}
		}
	}
}

// manyCuts imitates repeats on a bench: 1 % of spread, one stray shot.
func manyCuts(n int) []Cut {
	var cuts []Cut
	for k := range n {
		spread := 1 + 0.01*math.Sin(float64(7*k))
		if k == n/2 {
			spread = 1.2
		}
		cuts = append(cuts, Cuts(moved(fmt.Sprint("repeat ", k), spread, 2-spread, float64(k)*0.11e-9))...)
	}
	return cuts
}

func TestOverlayPanels(t *testing.T) {
	for name, cuts := range map[string][]Cut{"few": campaign(), "many": manyCuts(30)} {
		for _, style := range Styles() {
			figures, err := DrawOverlays(cuts, "all", style)
			if err != nil {
				t.Fatal(err)
			}
			for _, f := range figures {
				checkPanels(t, name+" "+style.Name+" "+f.Part, f)
				checkSVG(t, name+" "+style.Name+" "+f.Part, rendered(t, f, "svg"))
				for _, e := range f.legend {
					if end := e.at.X + legendLine + 4 + f.text(legendSize, subs).Width(e.Text); end > f.width || e.at.Y < f.box.Max.Y {
						t.Errorf("%s %s %s: the entry %q at %v is cut", name, style.Name, f.Part, e.Text, e.at)
					}
				}
				writeToLookAt(t, "overlay-"+name+"-"+style.Name+"-"+f.Part, f)
			}
		}
	}
}

// writeToLookAt writes a picture for people to SLEWBOOK_FIGURES, if that is set.
func writeToLookAt(t *testing.T, name string, f *Figure) {
	t.Helper()
	dir := os.Getenv("SLEWBOOK_FIGURES")
	if dir == "" {
		return
	}
	for _, format := range Formats() {
		if err := os.WriteFile(filepath.Join(dir, name+"."+format), rendered(t, f, format), 0o644); err != nil {
			t.Fatal(err)
		}
	}
}

// 100 shots overlaid, from their traces to the PNG: under five seconds.
func BenchmarkOverlayOf100(b *testing.B) {
	var shots []*result.Shot
	for k := range 100 {
		shots = append(shots, moved(fmt.Sprint(k), 1+0.0001*float64(k), 1, 0))
	}
	for b.Loop() {
		var cuts []Cut
		for _, s := range shots {
			cuts = append(cuts, Cuts(s)...)
		}
		figures, err := DrawOverlays(cuts, "all", screen())
		if err != nil {
			b.Fatal(err)
		}
		for _, f := range figures {
			if err := f.Write(io.Discard, "png"); err != nil {
				b.Fatal(err)
			}
		}
	}
}

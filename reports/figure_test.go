package reports

import (
	"bytes"
	"encoding/xml"
	"errors"
	"image/color"
	"image/png"
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"golang.org/x/sync/errgroup"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgsvg"

	"slewbook/dpt/result"
	"slewbook/waveform"
)

// awkward returns invented shots that make a figure difficult.
func awkward() map[string]*result.Shot {
	out := map[string]*result.Shot{}
	change := func(name string, f func(*result.Shot)) {
		s := halfBridge(0.8e-9)
		f(s)
		out[name] = s
	}
	change("plain", func(*result.Shot) {})
	change("no-gate-igbt", func(s *result.Shot) {
		delete(s.Traces, result.Vgs)
		s.Conditions = append(s.Conditions, result.Condition{Key: "kind", Value: math.NaN(), Text: "igbt"})
		for i := range s.Edges {
			s.Edges[i].Marks = s.Edges[i].Marks[1:]
		}
	})
	change("one-edge-inverted", func(s *result.Shot) {
		s.Edges = s.Edges[1:]
		w := &s.Edges[0].Window
		w.From, w.To = w.To, w.From
		s.Edges[0].Energy = math.NaN()
		s.Edges[0].Pulse = 0
		s.Events = s.Events[2:3]
		s.Events[0].Pulse = 0
	})
	change("over-range-raw", func(s *result.Shot) {
		v := s.Traces[result.Vds]
		for k, y := range v.Y {
			if y > 900 {
				v.Y[k] = math.Inf(1)
			}
		}
		raw := *s.Traces[result.Id]
		raw.T0 += 4e-9
		s.Raw = map[result.Role]*waveform.Trace{result.Id: &raw}
		s.Edges[0].Energy = math.NaN()
	})
	change("voltage-only", func(s *result.Shot) {
		delete(s.Traces, result.Vgs)
		delete(s.Traces, result.Id)
		s.Edges = nil
		s.Conditions, s.Corrections, s.Warnings = nil, nil, nil
	})
	change("long-name-no-reading", func(s *result.Shot) {
		s.Capture = "campaign-with-a-long-name/" + strings.Repeat("lot_17-position_", 6) + "é<&>\x1b"
		for i := range s.Edges {
			nan := math.NaN()
			s.Edges[i].Window, s.Edges[i].Energy, s.Edges[i].Marks = waveform.Interval{From: nan, To: nan}, nan, nil
		}
	})
	return out
}

// TestFiguresToLookAt writes the pictures for people to SLEWBOOK_FIGURES.
func TestFiguresToLookAt(t *testing.T) {
	dir := os.Getenv("SLEWBOOK_FIGURES")
	if dir == "" {
		t.Skip("set SLEWBOOK_FIGURES to a folder to get the pictures")
	}
	for name, s := range awkward() {
		for _, format := range []string{"svg", "png"} {
			var buf bytes.Buffer
			if err := WriteFigure(&buf, s, format); err != nil {
				t.Fatal(err)
			}
			if err := os.WriteFile(filepath.Join(dir, name+"."+format), buf.Bytes(), 0o644); err != nil {
				t.Fatal(err)
			}
		}
	}
}

// The golden is the SVG of a coarsely sampled shot with its text as text: small
// enough to read.
func TestGoldenFigure(t *testing.T) {
	f, err := DrawShot(halfBridge(16e-9), DefaultSize())
	if err != nil {
		t.Fatal(err)
	}
	canvas := vgsvg.New(vg.Length(f.size.Width)*vg.Millimeter, vg.Length(f.size.Height)*vg.Millimeter)
	f.draw(draw.New(canvas))
	golden(t, "figure.svg", func(w io.Writer) error {
		_, err := canvas.WriteTo(w)
		return err
	})
}

func TestFigureFormats(t *testing.T) {
	for name, s := range awkward() {
		var svg bytes.Buffer
		if err := WriteFigure(&svg, s, "svg"); err != nil {
			t.Fatal(name, err)
		}
		for d := xml.NewDecoder(bytes.NewReader(svg.Bytes())); ; {
			if _, err := d.Token(); err == io.EOF {
				break
			} else if err != nil {
				t.Fatalf("%s: the SVG is not well-formed: %v", name, err)
			}
		}
		if strings.Contains(svg.String(), "<text") {
			t.Errorf("%s: the SVG needs a font", name)
		}
		if strings.Contains(svg.String(), "NaN") || strings.Contains(svg.String(), "Inf") {
			t.Errorf("%s: the SVG holds a non-finite coordinate", name)
		}
	}
	var pic bytes.Buffer
	if err := WriteFigure(&pic, halfBridge(8e-9), "png"); err != nil {
		t.Fatal(err)
	}
	config, err := png.DecodeConfig(&pic)
	if err != nil || config.Width != 1228 || config.Height != 1370 { // 260 mm by 290 mm at 120 dpi
		t.Errorf("PNG of %d by %d, %v", config.Width, config.Height, err)
	}
	if err := WriteFigure(io.Discard, halfBridge(8e-9), "gif"); err == nil || err.Error() != `figure format "gif": expected svg or png` {
		t.Errorf("gif: %v", err)
	}
}

func TestNoFigureOfAFailedShot(t *testing.T) {
	s := failedShot()
	if f, err := DrawShot(s, DefaultSize()); f != nil || !errors.Is(err, s.Err) {
		t.Errorf("got %v, %v", f, err)
	}
	if _, err := DrawShot(&result.Shot{Capture: "x"}, DefaultSize()); err == nil || !strings.Contains(err.Error(), "neither a vds nor an id trace") {
		t.Errorf("without traces: %v", err)
	}
	if _, err := DrawShot(halfBridge(8e-9), Size{Width: 10, Height: 10, DPI: 120}); err == nil {
		t.Error("a figure of 10 mm was accepted")
	}
}

// Several goroutines may draw at once: run with -race.
func TestFiguresInParallel(t *testing.T) {
	var g errgroup.Group
	for range 4 {
		s := halfBridge(16e-9)
		g.Go(func() error { return WriteFigure(io.Discard, s, "svg") })
	}
	if err := g.Wait(); err != nil {
		t.Error(err)
	}
}

// What is shaded and marked is what the shot states, to the bit.
func TestFigureShowsTheShotsMarks(t *testing.T) {
	s := halfBridge(0.8e-9)
	f, err := DrawShot(s, DefaultSize())
	if err != nil {
		t.Fatal(err)
	}
	perEdge := 5 // v, i, gate, p, E
	if len(f.panels) != 3+2*perEdge {
		t.Fatalf("%d panels, want %d", len(f.panels), 3+2*perEdge)
	}
	for _, p := range f.panels[:3] {
		for k, e := range s.Edges {
			if p.More[k] != e.Window {
				t.Errorf("record: shaded %v, want %v", p.More[k], e.Window)
			}
		}
	}
	for k, e := range s.Edges {
		panels := f.panels[3+k*perEdge:][:perEdge]
		for i, p := range panels {
			if p.Window != e.Window || p.Zero != e.T {
				t.Errorf("%s, panel %d: shaded %v about %v, want %v about %v", e.Edge, i, p.Window, p.Zero, e.Window, e.T)
			}
		}
		drawn := 0
		for i, role := range mainRoles() {
			for _, m := range panels[i].Marks {
				found := false
				for _, want := range e.Marks {
					found = found || want.Role == role && want.T == m.T && want.Y == m.Y && strings.HasPrefix(m.Label, want.Label)
				}
				if !found {
					t.Errorf("%s: mark %+v is not in the shot", e.Edge, m)
				}
				drawn++
			}
		}
		if drawn != len(e.Marks) {
			t.Errorf("%s: %d marks drawn, want %d", e.Edge, drawn, len(e.Marks))
		}
	}
}

// All data areas of a stack have the same left and right edge, and no panel
// lies on another.
func TestPanelsLineUp(t *testing.T) {
	for name, s := range awkward() {
		f, err := DrawShot(s, DefaultSize())
		if err != nil {
			t.Fatal(err)
		}
		for i, p := range f.panels {
			if p.Area.Min.Y < f.box.Max.Y || p.Area.Max.Y-p.Area.Min.Y < 30 {
				t.Errorf("%s: panel %d lies at %v", name, i, p.Area)
			}
			for _, q := range f.panels[:i] {
				if p.Area.Min.X < q.Area.Max.X && q.Area.Min.X < p.Area.Max.X && p.Area.Min.Y < q.Area.Max.Y && q.Area.Min.Y < p.Area.Max.Y {
					t.Errorf("%s: panels overlap: %v, %v", name, p.Area, q.Area)
				}
			}
		}
	}
}

// Grey copies and colour-blind eyes: every pen is dark on white (contrast 4.5
// to 1, WCAG 2.1 success criterion 1.4.3, formula from memory), and pens that
// can share a panel, trace and raw, differ by 2 to 1 in luminance.
func TestPaletteInGrey(t *testing.T) {
	traces := []pen{voltagePen(), currentPen(), gatePen(), powerPen(), energyPen()}
	for i, p := range traces {
		if c := contrast(color.RGBA{255, 255, 255, 255}, p.Color); c < 4.5 {
			t.Errorf("pen %d: contrast %.2f on white", i, c)
		}
		if c := contrast(windowFill(), p.Color); c < 3.7 {
			t.Errorf("pen %d: contrast %.2f on the window", i, c)
		}
		if p.Width < 2*rawPen().Width {
			t.Errorf("pen %d is as thin as the raw trace", i)
		}
	}
	// Neighbours in the stack.
	for _, pair := range [][2]pen{{voltagePen(), currentPen()}, {currentPen(), powerPen()}, {gatePen(), powerPen()}, {gatePen(), energyPen()}} {
		if c := contrast(pair[0].Color, pair[1].Color); c < 1.8 {
			t.Errorf("%v and %v: contrast %.2f", pair[0].Color, pair[1].Color, c)
		}
	}
}

func contrast(a, b color.RGBA) float64 {
	la, lb := luminance(a)+0.05, luminance(b)+0.05
	return max(la, lb) / min(la, lb)
}

func luminance(c color.RGBA) float64 {
	linear := func(v uint8) float64 {
		x := float64(v) / 255
		if x <= 0.03928 {
			return x / 12.92
		}
		return math.Pow((x+0.055)/1.055, 2.4)
	}
	return 0.2126*linear(c.R) + 0.7152*linear(c.G) + 0.0722*linear(c.B)
}

func TestTenMillionPointsDrawQuickly(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	n := 10_000_000
	trace := func() *waveform.Trace {
		tr := &waveform.Trace{Unit: "V", Dt: 1e-12, Y: make([]float64, n)}
		for k := range tr.Y {
			tr.Y[k] = float64(k % 1000)
		}
		return tr
	}
	s := &result.Shot{Capture: "long", Traces: map[result.Role]*waveform.Trace{result.Vds: trace(), result.Id: trace(), result.Vgs: trace()}}
	start := time.Now()
	if err := WriteFigure(io.Discard, s, "svg"); err != nil {
		t.Fatal(err)
	}
	// It takes a quarter of a second on two slow cores; drawing every point takes minutes.
	if d := time.Since(start); d > 5*time.Second {
		t.Errorf("took %v", d)
	} else {
		t.Log(d)
	}
}

package reports

import (
	"bytes"
	"encoding/xml"
	"errors"
	"image/color"
	"image/png"
	"io"
	"math"
	"strings"
	"testing"

	"golang.org/x/sync/errgroup"
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

// Every style takes every awkward shot. The pictures are written for people where
// SLEWBOOK_FIGURES names a folder.
func TestEveryStyleTakesEveryShot(t *testing.T) {
	for name, s := range awkward() {
		for _, style := range Styles() {
			all := figures(t, s, style)
			if len(all) == 0 {
				t.Errorf("%s has no figure in the style %s", name, style.Name)
			}
			for _, f := range all {
				writeToLookAt(t, name+"-"+style.Name+"-"+f.Part, f)
			}
		}
	}
}

func figures(t testing.TB, s *result.Shot, style Style) []*Figure {
	t.Helper()
	out, err := DrawShot(s, style)
	if err != nil {
		t.Fatal(err)
	}
	return out
}

func rendered(t testing.TB, f *Figure, format string) []byte {
	t.Helper()
	var buf bytes.Buffer
	if err := f.Write(&buf, format); err != nil {
		t.Fatal(err)
	}
	return buf.Bytes()
}

func screen() Style { return Styles()[0] }

// The golden is the SVG of a coarsely sampled shot with its text as text: small
// enough to read.
func TestGoldenFigure(t *testing.T) {
	f := figures(t, halfBridge(16e-9), screen())[0]
	canvas := vgsvg.New(f.width, f.height)
	f.draw(draw.New(canvas))
	golden(t, "figure.svg", func(w io.Writer) error {
		_, err := canvas.WriteTo(w)
		return err
	})
}

func TestFigureFormats(t *testing.T) {
	for name, s := range awkward() {
		for _, style := range Styles() {
			for _, f := range figures(t, s, style) {
				checkSVG(t, name+" "+style.Name+" "+f.Part, rendered(t, f, "svg"))
			}
		}
	}
	f := figures(t, halfBridge(8e-9), screen())[0]
	config, err := png.DecodeConfig(bytes.NewReader(rendered(t, f, "png")))
	if err != nil || config.Width != 1228 || config.Height != 1370 { // 260 mm by 290 mm at 120 dpi
		t.Errorf("PNG of %d by %d, %v", config.Width, config.Height, err)
	}
	if pdf := rendered(t, f, "pdf"); !bytes.HasPrefix(pdf, []byte("%PDF-")) || !bytes.Contains(pdf, []byte("/MediaBox [0 0 737.01 822.05]")) || bytes.Contains(pdf, []byte("/Font <</")) {
		t.Errorf("the PDF is of another size, or it needs a font: %.300s", pdf)
	}
	if err := f.Write(io.Discard, "gif"); err == nil || err.Error() != `figure format "gif": expected png, svg, pdf` {
		t.Errorf("gif: %v", err)
	}
}

func checkSVG(t *testing.T, name string, svg []byte) {
	t.Helper()
	for d := xml.NewDecoder(bytes.NewReader(svg)); ; {
		if _, err := d.Token(); err == io.EOF {
			break
		} else if err != nil {
			t.Fatalf("%s: the SVG is not well-formed: %v", name, err)
		}
	}
	if bytes.Contains(svg, []byte("<text")) {
		t.Errorf("%s: the SVG needs a font", name)
	}
	if bytes.Contains(svg, []byte("NaN")) || bytes.Contains(svg, []byte("Inf")) {
		t.Errorf("%s: the SVG holds a non-finite coordinate", name)
	}
}

func TestNoFigureOfAFailedShot(t *testing.T) {
	s := failedShot()
	if f, err := DrawShot(s, screen()); f != nil || !errors.Is(err, s.Err) {
		t.Errorf("got %v, %v", f, err)
	}
	if _, err := DrawShot(&result.Shot{Capture: "x"}, screen()); err == nil || !strings.Contains(err.Error(), "neither a vds nor an id trace") {
		t.Errorf("without traces: %v", err)
	}
	if _, err := DrawShot(halfBridge(8e-9), Style{Width: 10, Height: 10, Text: 8, DPI: 120}); err == nil {
		t.Error("a figure of 10 mm was accepted")
	}
}

// Several goroutines may draw at once: run with -race.
func TestFiguresInParallel(t *testing.T) {
	var g errgroup.Group
	for range 4 {
		s := halfBridge(16e-9)
		g.Go(func() error {
			f, err := DrawShot(s, screen())
			if err != nil {
				return err
			}
			return f[0].Write(io.Discard, "svg")
		})
	}
	if err := g.Wait(); err != nil {
		t.Error(err)
	}
}

// What is shaded and marked is what the shot states, to the bit.
func TestFigureShowsTheShotsMarks(t *testing.T) {
	s := halfBridge(0.8e-9)
	f := figures(t, s, screen())[0]
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

// In every style no panel lies on another, on the box or beyond the page.
func TestPanelsLineUp(t *testing.T) {
	for name, s := range awkward() {
		for _, style := range Styles() {
			for _, f := range figures(t, s, style) {
				checkPanels(t, name+" "+style.Name+" "+f.Part, f)
			}
		}
	}
}

func checkPanels(t *testing.T, name string, f *Figure) {
	t.Helper()
	for i, p := range f.panels {
		if p.Area.Min.Y < f.box.Max.Y || p.Area.Min.X < 0 || p.Area.Max.X > f.width || p.Area.Max.Y > f.height || p.Area.Max.Y-p.Area.Min.Y < 30 {
			t.Errorf("%s: panel %d lies at %v", name, i, p.Area)
		}
		for _, q := range f.panels[:i] {
			if p.Area.Min.X < q.Area.Max.X && q.Area.Min.X < p.Area.Max.X && p.Area.Min.Y < q.Area.Max.Y && q.Area.Min.Y < p.Area.Max.Y {
				t.Errorf("%s: panels overlap: %v, %v", name, p.Area, q.Area)
			}
		}
	}
	if f.box.Min.Y < -1e-6 || f.box.Max.X > f.width {
		t.Errorf("%s: the box lies at %v", name, f.box)
	}
	for _, l := range f.texts {
		if end := l.at.X + f.text(l.size, l.subscript).Width(l.text); end > f.width || l.at.Y-l.size < 0 || l.at.Y > f.height {
			t.Errorf("%s: %q at %v leaves the page", name, l.text, l.at)
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

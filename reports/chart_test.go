package reports

import (
	"bytes"
	"fmt"
	"math"
	"strings"
	"testing"

	"slewbook/dpt/result"
)

// inventedChart has a fit, an outlier, a point without uncertainty and a line
// without a fit.
func inventedChart() *result.Chart {
	nan := math.NaN()
	dot := func(name string, i, e, u, tj float64) result.Dot {
		return result.Dot{Capture: name, X: i, Y: e, U: u, UX: nan, V: 600, I: i, Tj: tj, Rg: nan, Fitted: nan, LeftOut: nan, Weight: nan}
	}
	cold := result.Line{Label: "T_j = 25 °C", Left: 0.01, Formula: "E_on = a + b I; a = 40 ± 3 µJ", Dots: []result.Dot{dot("a", 20, 2e-4, 5e-6, 298), dot("b", 40, 4e-4, nan, 298), dot("c", 60, 9e-4, 9e-6, 298)}}
	cold.Dots[2].Outlier, cold.Dots[2].Weight, cold.Dots[2].Flags = true, 0.25, "few-samples"
	for k := range 5 {
		cold.Fit = append(cold.Fit, result.FitPoint{X: 20 + 10*float64(k), Y: 2e-4 + 1e-4*float64(k), Half: 1e-5, Inside: true})
	}
	hot := result.Line{Label: "T_j = 150 °C", Left: nan, Why: "no fit: fewer than three different conditions", Dots: []result.Dot{dot("d", 20, 3e-4, 5e-6, 423)}}
	return &result.Chart{Key: "e_on", Over: "i", YSymbol: "E_on", YUnit: "J", XSymbol: "I", XUnit: "A", Where: "V = 600 V", Lines: []result.Line{cold, hot}, Notes: []string{"Invented."}}
}

func TestChartCSV(t *testing.T) {
	var out bytes.Buffer
	if err := WriteChartCSV(&out, inventedChart()); err != nil {
		t.Fatal(err)
	}
	want := `line,capture,over i [A],e_on [J],u [J],v [V],i [A],tj [K],rg [ohm],moved [J],fitted [J],left out [J],weight,outlier,warnings
T_j = 25 °C,a,20,0.0002,5e-06,600,20,298,,0,,,,,
T_j = 25 °C,b,40,0.0004,,600,40,298,,0,,,,,
T_j = 25 °C,c,60,0.0009,9e-06,600,60,298,,0,,,0.25,yes,few-samples
T_j = 150 °C,d,20,0.0003,5e-06,600,20,423,,0,,,,,
`
	if out.String() != want {
		t.Errorf("got\n%s\nexpected\n%s", out.String(), want)
	}
}

func TestChartJSON(t *testing.T) {
	var out bytes.Buffer
	if err := WriteChartJSON(&out, inventedChart()); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{`{"chart":"e_on-over-i","key":"e_on","unit":"J","over":"i"`, `"u":null`, `"outlier":true,"warnings":["few-samples"]`, `"fit":[]`, `"left_out":null`, `"fit":[[20,0.0002,0.00001]`} {
		if !strings.Contains(out.String(), want) {
			t.Errorf("no %s in %s", want, out.String())
		}
	}
}

// TestChartFigure: in every style and format; zero at the bottom, every point
// with its bar within the axes.
func TestChartFigure(t *testing.T) {
	for _, style := range Styles() {
		f, err := DrawChart(inventedChart(), style)
		if err != nil {
			t.Fatal(err)
		}
		p := f.panels[0]
		lo, hi := p.yRange()
		if lo != 0 || p.X.From != 0 {
			t.Errorf("%s: the axes start at %g, %g; expected zero", style.Name, p.X.From, lo)
		}
		for _, d := range p.Dots {
			if top := d.Y + 2*max(d.U, 0); top > hi || d.X > p.X.To {
				t.Errorf("%s: point %s leaves the axes", style.Name, d.Label)
			}
		}
		for _, format := range Formats() {
			var out bytes.Buffer
			if err := f.Write(&out, format); err != nil || out.Len() < 500 {
				t.Errorf("%s as %s: %d bytes, %v", style.Name, format, out.Len(), err)
			}
		}
	}
}

// TestPage: every missing item stands on the page, every quantity has its row,
// all of it on the sheet.
func TestPage(t *testing.T) {
	nan := math.NaN()
	p := &Page{Title: "Invented", Charts: []*result.Chart{inventedChart(), inventedChart(), inventedChart(), inventedChart(), inventedChart(), inventedChart(), inventedChart()}}
	for k := range 20 {
		p.Spreads = append(p.Spreads, result.Spread{Key: "e_on", Symbol: fmt.Sprintf("Q_%d", k), Unit: "J", Where: "V = 600 V", N: 3, Missing: 1, Mean: 5e-4, Min: 4e-4, Max: 6e-4, S: 1e-5, U: nan})
	}
	for k := range 13 {
		item := result.PageItem{Name: fmt.Sprintf("heading%d", k), Known: []string{"known"}}
		for n := range 12 {
			item.Missing = append(item.Missing, fmt.Sprintf("missing%d.%d", k, n))
		}
		p.Items = append(p.Items, item)
	}
	f, err := DrawPage(p)
	if err != nil {
		t.Fatal(err)
	}
	all := ""
	for _, l := range f.texts {
		all += l.text + " "
		if l.at.Y < 0 || l.at.Y > f.height || l.at.X < 0 || l.at.X > f.width {
			t.Errorf("%q stands at %v, off the sheet", l.text, l.at)
		}
	}
	for k := range 13 {
		for n := range 12 {
			if want := fmt.Sprintf("missing%d.%d", k, n); !strings.Contains(all, want) {
				t.Errorf("%s is not on the page", want)
			}
		}
	}
	if !strings.Contains(all, "Q_19 [µJ]") || strings.Count(all, "NOT STATED: ") != 13 || len(f.panels) != pageCharts {
		t.Errorf("rows, headings or charts are lacking: %s", all)
	}
	if f.box.Min.Y < 0 || f.box.Max.Y > f.height {
		t.Errorf("the box %v leaves the sheet of %v", f.box, f.height)
	}
	for _, format := range []string{"pdf", "svg"} {
		var out bytes.Buffer
		if err := f.Write(&out, format); err != nil || out.Len() < 1000 {
			t.Errorf("%s: %d bytes, %v", format, out.Len(), err)
		}
	}
}

package reports

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"slewbook/dpt/result"
)

// The sheet to print has stored energy, cautions and stop rules above the shots, only
// those that break nothing, in their order, and what is left out with its reason; it
// names no set-up safe, and what comes from a file is text.
func TestPlanSheet(t *testing.T) {
	nan := math.NaN()
	p := &result.Plan{Repeats: 2, Unchecked: []string{"v_set against <bank.v_max>"}, Stops: []string{"v_peak 960.0 V (plan.v_share of device.v_max)"}}
	p.Figures = []result.PlanFigure{{Key: "v_bus", Unit: "V"}, {Key: "i_off", Unit: "A"}, {Key: "v_set", Unit: "V"}, {Key: "e_bank", Unit: "J"}, {Key: "e_load", Unit: "J"}, {Key: "t_bleed", Unit: "s"}}
	p.Points = []result.PlanPoint{
		{Values: []float64{400, 20, 401, 8.04, 0.02, nan}},
		{Values: []float64{800, 60, 804, 32.3, 0.18, nan}, Breaks: []string{"i_off is above it"}},
		{Values: []float64{800, 90, nan, nan, nan, nan}, Short: "beyond saturation"},
	}
	var out strings.Builder
	if err := WritePlanSheet(&out, p, nil); err != nil {
		t.Fatal(err)
	}
	text := out.String()
	last := -1
	for _, want := range []string{"STORED ENERGY: up to 32.3 J in the bank and 180 mJ in the inductor (at 804.0 V).", "Nothing here authorises work", "Stop, and find out why", "Above v_peak 960.0 V",
		"<th>v_bus [V]</th>", "<td>1 ×2</td><td>400.0</td>", "2: i_off is above it", "3: beyond saturation", "&lt;bank.v_max&gt;"} {
		at := strings.Index(text, want)
		if at < last || at < 0 {
			t.Errorf("%q is missing, or stands above what goes before it", want)
		}
		last = at
	}
	if strings.Contains(text, "<td>2 ×2</td>") || strings.Contains(text, "What to expect") {
		t.Error("a point that breaks a limit is to be taken, or pictures are promised")
	}
	if _, text, _ = strings.Cut(text, "<body>"); strings.Count(text, "safe") != strings.Count(text, "or says that a set-up is safe") {
		t.Error("the sheet speaks of safe")
	}
}

// The pages hold what the sheet holds, every point that is to be taken once, nothing past
// their margins, and the head of the table again on each page that it goes on to.
func TestPlanPDF(t *testing.T) {
	d := planSheetData{Energy: []string{"STORED ENERGY: much"}, Cautions: cautions, Stops: []string{"Above it."}, Left: []string{"4: beyond"}, Unchecked: []string{"v_set against bank.v_max"},
		Head: []string{"v_bus [V]", "t_1 [µs]"}, Points: 90, Shots: 90}
	for k := range 90 {
		d.Rows = append(d.Rows, []string{fmt.Sprint(k + 1), "400.0", fmt.Sprintf("t%d", k)})
	}
	pages := drawPlanSheet(d, 1)
	if len(pages) < 2 || len(pages) > 3 {
		t.Fatalf("%d pages", len(pages))
	}
	count := map[string]int{}
	for _, f := range pages {
		margin := f.style.length(f.style.Margin)
		for _, l := range f.texts {
			count[l.text]++
			width := f.text(l.size, plain).Width(l.text)
			left := l.at.X
			if l.right {
				left -= width
			}
			if left < margin-1 || left+width > f.width-margin+1 || l.at.Y > f.height-margin || l.at.Y < margin-5 {
				t.Errorf("%q stands at %.0f to %.0f, %.0f of a page of %.0f by %.0f", l.text, left, left+width, l.at.Y, f.width, f.height)
			}
		}
	}
	for k := range 90 {
		if count[fmt.Sprintf("t%d", k)] != 1 {
			t.Errorf("row %d stands there %d times", k+1, count[fmt.Sprintf("t%d", k)])
		}
	}
	if n := count["v_bus"]; n != len(pages) || count["taken"] != n || count["STORED ENERGY: much"] != 1 {
		t.Errorf("the head of the table stands there %d times on %d pages, the stored energy %d times", n, len(pages), count["STORED ENERGY: much"])
	}
	p := &result.Plan{Repeats: 1, Figures: []result.PlanFigure{{Key: "e_bank", Unit: "J"}}}
	var out strings.Builder
	if err := WritePlanPDF(&out, p, nil); err != nil || !strings.HasPrefix(out.String(), "%PDF-") {
		t.Errorf("%v, %.10q", err, out.String())
	}
}

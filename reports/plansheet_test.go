package reports

import (
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

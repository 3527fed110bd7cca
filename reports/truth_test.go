package reports

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"image"
	"image/png"
	"math"
	"strconv"
	"strings"
	"testing"

	"slewbook/dpt"
	"slewbook/dpt/model"
	"slewbook/dpt/result"
)

// measuredShot measures one shot of the invented campaign.
func measuredShot(t *testing.T) *result.Shot {
	t.Helper()
	in := model.DemoInstrument()
	shots := model.Campaign()
	s, err := dpt.Measure(model.Capture(shots[len(shots)-1].Waveforms(), in, 1), dpt.Defaults())
	if err != nil {
		t.Fatal(err)
	}
	return &s
}

// What a figure shades and marks is what the JSON states, in every style. The
// levels are those of the definitions: 10 and 90 % of the bus and of the load
// current.
func TestFigureEqualsJSON(t *testing.T) {
	s := measuredShot(t)
	var buf bytes.Buffer
	if err := WriteShotJSON(&buf, s); err != nil {
		t.Fatal(err)
	}
	var stated struct {
		Quantities map[string]struct{ Value, From, To float64 }
	}
	if err := json.Unmarshal(buf.Bytes(), &stated); err != nil {
		t.Fatal(err)
	}
	q := stated.Quantities
	for _, style := range Styles() {
		drawn := map[string][2]float64{}
		for _, f := range figures(t, s, style) {
			readFigureCSV(t, f, drawn)
		}
		for key, want := range map[string][2]float64{
			"turn-off vds window from":      {q["e_off"].From, math.NaN()},
			"turn-off energy window to":     {q["e_off"].To, math.NaN()},
			"turn-on vds window from":       {q["e_on"].From, math.NaN()},
			"turn-on power window to":       {q["e_on"].To, math.NaN()},
			"turn-off vds mark v 10 %":      {q["t_rise_v"].From, 0.1 * q["v_bus_off"].Value},
			"turn-off vds mark v 90 %":      {q["t_rise_v"].To, 0.9 * q["v_bus_off"].Value},
			"turn-off id mark i 90 %":       {q["t_fall_i"].From, 0.9 * q["i_off"].Value},
			"turn-off id mark i 10 %":       {q["t_fall_i"].To, 0.1 * q["i_off"].Value},
			"turn-on id mark i 10 %":        {q["t_rise_i"].From, 0.1 * q["i_on"].Value},
			"turn-on id mark i 90 %":        {q["t_rise_i"].To, 0.9 * q["i_on"].Value},
			"turn-on vds mark v 90 %":       {q["t_fall_v"].From, 0.9 * q["v_bus_on"].Value},
			"turn-on vds mark v 10 %":       {q["t_fall_v"].To, 0.1 * q["v_bus_on"].Value},
			"turn-off vds mark v peak":      {math.NaN(), q["v_peak"].Value},
			"turn-on id mark i peak":        {math.NaN(), q["i_peak"].Value},
			"turn-off vds level 90 %":       {math.NaN(), 0.9 * q["v_bus_off"].Value},
			"turn-on id level 10 %":         {math.NaN(), 0.1 * q["i_on"].Value},
			"turn-off id level base I_load": {math.NaN(), q["i_off"].Value},
		} {
			got, ok := drawn[key]
			if !ok {
				t.Errorf("%s: no %s in the figures", style.Name, key)
			}
			for k, unit := range []string{"s", ""} {
				if !math.IsNaN(want[k]) && math.Abs(got[k]-want[k]) > 1e-12*math.Abs(want[k]) { // products of the same numbers
					t.Errorf("%s: %s at %v %s, want %v", style.Name, key, got[k], unit, want[k])
				}
			}
		}
	}
}

// readFigureCSV collects the rows of a figure but its curves, by panel, item and
// label; the value in the label of a peak is left out.
func readFigureCSV(t *testing.T, f *Figure, into map[string][2]float64) {
	t.Helper()
	var buf bytes.Buffer
	if err := f.WriteCSV(&buf); err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(&buf).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	number := func(txt string) float64 {
		x, err := strconv.ParseFloat(txt, 64)
		if err != nil {
			return math.NaN()
		}
		return x
	}
	for _, r := range rows[1:] {
		label := r[2]
		if at := strings.Index(label, " peak"); at >= 0 {
			label = label[:at+len(" peak")]
		}
		if r[1] != "curve" {
			into[r[0]+" "+r[1]+" "+label] = [2]float64{number(r[3]), number(r[4])}
		}
	}
}

// A spike one sample wide among ten million is in the picture, at its height:
// nothing else is drawn in the upper half of its panel.
func TestOneSamplePeakShows(t *testing.T) {
	s := longShot(1_000_000)
	delete(s.Traces, result.Id)
	delete(s.Traces, result.Vgs)
	v := s.Traces[result.Vds]
	for k := range v.Y {
		v.Y[k] = float64(k % 2)
	}
	v.Y[654_321] = 500
	f := figures(t, s, screen())[0]
	img, err := png.Decode(bytes.NewReader(rendered(t, f, "png")))
	if err != nil {
		t.Fatal(err)
	}
	p := f.panels[0]
	dots := float64(screen().DPI) / 72
	lo, hi := p.yRange()
	pixel := func(y float64) int {
		at := float64(p.Area.Min.Y) + (y-lo)/(hi-lo)*float64(p.Area.Max.Y-p.Area.Min.Y)
		return int((float64(f.height) - at) * dots)
	}
	if !bluish(img, pixel(495)) || !bluish(img, pixel(250)) {
		t.Error("the spike is not drawn to its height")
	}
	if bluish(img, pixel(520)) {
		t.Error("something is drawn above the spike")
	}
}

// bluish tells whether a row of pixels holds the colour of the voltage.
func bluish(img image.Image, y int) bool {
	for x := range img.Bounds().Dx() {
		r, _, b, _ := img.At(x, y).RGBA()
		if b>>8 > r>>8+40 {
			return true
		}
	}
	return false
}

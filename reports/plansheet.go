package reports

import (
	"bytes"
	_ "embed"
	"encoding/base64"
	"fmt"
	"html/template"
	"io"
	"math"

	"slewbook/dpt/result"
	"slewbook/waveform/unit"
)

//go:embed plansheet.html
var planSheet string

// Picture is a figure on a page of its own name.
type Picture struct {
	Name   string
	Figure *Figure
}

// WritePlanSheet writes a plan to be printed and taken to the bench, as one HTML file
// that needs no other: stored energy and cautions first, stop rules, the shots in their
// order with room for marks, what is not to be taken, and predicted waveforms.
func WritePlanSheet(w io.Writer, p *result.Plan, pictures []Picture) error {
	page, err := template.New("sheet").Parse(planSheet)
	if err != nil {
		return err
	}
	data := struct {
		planSheetData
		Pictures []embedded
	}{planSheetData: newPlanSheetData(p)}
	for _, x := range pictures {
		e, err := embed(x)
		if err != nil {
			return err
		}
		data.Pictures = append(data.Pictures, e)
	}
	return page.Execute(w, data)
}

// planSheetData is what a sheet says, as text.
type planSheetData struct {
	Energy, Cautions, Stops, Head, Left, Unchecked []string
	Rows                                           [][]string
	Points, Shots                                  int
}

func newPlanSheetData(p *result.Plan) planSheetData {
	d := planSheetData{Energy: storedEnergy(p), Cautions: cautions, Stops: stopRules(p), Unchecked: p.Unchecked, Points: len(p.Points)}
	d.Head, d.Rows = sheetRows(p)
	d.Shots = len(d.Rows) * p.Repeats
	for k, pt := range p.Points {
		for _, n := range pt.Notes() {
			d.Left = append(d.Left, fmt.Sprintf("%d: %s", k+1, n))
		}
	}
	return d
}

// embedded is a picture as a part of the page.
type embedded struct {
	Name string
	URL  template.URL
}

func embed(x Picture) (embedded, error) {
	var png bytes.Buffer // a tenth of the SVG's size with a whole record in it
	if err := x.Figure.Write(&png, "png"); err != nil {
		return embedded{}, err
	}
	return embedded{x.Name, template.URL("data:image/png;base64," + base64.StdEncoding.EncodeToString(png.Bytes()))}, nil
}

// storedEnergy says what the bench stores at the most.
func storedEnergy(p *result.Plan) []string {
	most, at := math.NaN(), -1
	for k := range p.Points {
		if e := p.Value(k, "e_bank"); e == e && !(e <= most) {
			most, at = e, k
		}
	}
	if at < 0 {
		return []string{"STORED ENERGY: not known, since no point can be reached; ½·C·V² of the bank all the same."}
	}
	out := []string{fmt.Sprintf("STORED ENERGY: up to %s in the bank and %s in the inductor (at %s).",
		unit.Format(most, "J", 3), unit.Format(p.Value(at, "e_load"), "J", 3), unit.Format(p.Value(at, "v_set"), "V", 4))}
	if bleed := p.Value(at, "t_bleed"); !math.IsNaN(bleed) {
		out = append(out, fmt.Sprintf("The bleeder, while it is whole, takes %s down to the voltage that was given.", unit.Format(bleed, "s", 3)))
	}
	return out
}

// stopRules are those of any test, and the limits that this one was held against.
func stopRules(p *result.Plan) []string {
	out := []string{
		"Voltage, current, temperature, sag or ringing that the row does not foretell.",
		"A peak, or a current at the end of the second pulse, above its row's.",
	}
	for _, s := range p.Stops {
		out = append(out, "Above "+s+".")
	}
	return append(out, "Any failure, smell or noise: treat everything as charged, keep the last record, discharge, wait, verify, and only then open.")
}

// sheetKeys are the figures that a row of the sheet shows.
var sheetKeys = []string{"v_bus", "i_off", "tj", "v_set", "t_1", "t_gap", "t_2", "i_end", "v_peak", "v_sag", "e_bank", "e_load"}

// sheetRows returns the points that are to be taken, as text.
func sheetRows(p *result.Plan) (head []string, rows [][]string) {
	var shown []int
	size := map[int]float64{}
	for _, key := range sheetKeys {
		for k, f := range p.Figures {
			if f.Key != key || allMissing(p, k) {
				continue
			}
			scale, label := scaleFor(each(p.Points, func(pt result.PlanPoint) float64 { return pt.Values[k] }), f.Unit)
			if f.Unit == "K" {
				label = "°C"
			}
			shown, size[k], head = append(shown, k), scale, append(head, key+" ["+label+"]")
		}
	}
	for n, pt := range p.Points {
		if len(pt.Notes()) > 0 {
			continue
		}
		row := []string{fmt.Sprint(n + 1)}
		if p.Repeats > 1 {
			row[0] += fmt.Sprintf(" ×%d", p.Repeats)
		}
		for _, k := range shown {
			x := pt.Values[k] / size[k]
			if p.Figures[k].Unit == "K" {
				x = pt.Values[k] - celsius
			}
			row = append(row, unit.Number(x, 4))
		}
		rows = append(rows, row)
	}
	return head, rows
}

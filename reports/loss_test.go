package reports

import (
	"errors"
	"io"
	"math"
	"testing"

	"slewbook/dpt/result"
)

// invented losses at three frequencies: one with everything, one that left the data and
// lacks a part and a u, one without a number.
func inventedLosses() *result.Losses {
	nan := math.NaN()
	l := &result.Losses{Kind: "buck", Parts: []string{"p_on", "p_rr"}, Answers: []string{"largest frequency: 25.00 kHz"},
		Data: []string{"e_on by i10-v2, from 12 shots"}, NotInU: []string{"transistor.u"}, LeftOut: []string{"What two pulses do not show."}}
	l.Figures = []result.PlanFigure{{Key: "f_sw", Symbol: "f_sw", Unit: "Hz", Text: true}, {Key: "v", Symbol: "V", Unit: "V"}, {Key: "p_on", Symbol: "P_on", Unit: "W", Text: true}, {Key: "p_rr", Symbol: "P_rr", Unit: "W", Text: true},
		{Key: "p_total", Symbol: "P", Unit: "W", Text: true}, {Key: "p_closed", Symbol: "P_closed", Unit: "W"}, {Key: "closed_off", Symbol: "ΔP", Unit: "1"},
		{Key: "tj_t", Symbol: "T_j,T", Unit: "K", Text: true}, {Key: "tj_d", Symbol: "T_j,D", Unit: "K", Text: true}, {Key: "t_sink", Symbol: "T_sink", Unit: "K"}}
	u := func(effects ...float64) []result.Contribution {
		var out []result.Contribution
		for k, e := range effects {
			out = append(out, result.Contribution{Source: []string{"gain of id", "delay of id"}[k], Effect: e})
		}
		return out
	}
	l.Points = []result.LossPoint{
		{Fsw: 10e3, Values: []float64{10e3, 400, 12.3456, 3.21, 15.5556, 15.6, 0.0029, 353.15, 343.15, 323.15}, Budgets: [][]result.Contribution{nil, nil, u(0.3, -0.4), u(0.1), u(0.4, -0.3), nil, nil, u(1), u(0.5), nil}, Past: 0},
		{Fsw: 20e3, Values: []float64{20e3, 400, 24.7, nan, 24.7, nan, nan, 373.15, 343.15, 323.15}, Budgets: [][]result.Contribution{nil, nil, u(nan), nil, u(nan), nil, nil, u(nan), nil, nil},
			Missing: []string{"p_rr: no grid of e_rr"}, Beyond: []string{"e_on beyond its data in i"}, Past: 0.25, Breaks: []string{"T_j = 100.0 °C is above 90.00 °C"}, Notes: []string{"u is not known: with gain of id moved by its own, thermal runaway"}},
		{Fsw: 40e3, Values: []float64{40e3, nan, nan, nan, nan, nan, nan, nan, nan, nan}, Budgets: make([][]result.Contribution, 10), Err: errors.New("thermal runaway"), Past: nan},
	}
	return l
}

func TestLosses(t *testing.T) {
	l := inventedLosses()
	golden(t, "losses.txt", func(w io.Writer) error { return WriteLossesText(w, l, TextOptions{}) })
	golden(t, "losses.csv", func(w io.Writer) error { return WriteLossesCSV(w, l) })
	golden(t, "losses.jsonl", func(w io.Writer) error { return WriteLossesJSON(w, l) })
}

// Each line of a chart ends where the numbers do, and what left the data is ringed.
func TestLossCharts(t *testing.T) {
	charts := LossCharts(inventedLosses())
	if len(charts) != 2 || len(charts[0].Lines) != 3 {
		t.Fatalf("%d charts, %d lines in the first", len(charts), len(charts[0].Lines))
	}
	for k, n := range []int{2, 2, 1} { // p_total, p_on, p_rr
		if got := charts[0].Lines[k].Dots; len(got) != n || n == 2 && (got[0].Outlier || !got[1].Outlier) {
			t.Errorf("line %s: %+v", charts[0].Lines[k].Label, got)
		}
	}
	if _, err := DrawChart(charts[0], screen()); err != nil {
		t.Error(err)
	}
}

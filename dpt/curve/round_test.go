package curve

import (
	"math"
	"math/rand/v2"
	"testing"
)

// Each point, measured up to 3 % off its plan, is brought to the planned voltage and
// current: there it agrees with the invented surface within its u (three of them), and
// what was changed is told. Without a plan the values of an axis serve; far from both a
// point has no round value.
func TestRounded(t *testing.T) {
	points := campaign(rand.New(rand.NewPCG(9, 3)), invented, inventedP, 1e-3, 0)
	for k := range points {
		p := &points[k]
		p.PlanI, p.PlanV = 20*math.Round(p.I/20), 200*math.Round(p.V/200)
	}
	f, err := Least(invented, points, Options{Robust: Plain, Common: 0})
	if err != nil {
		t.Fatal(err)
	}
	s := &Series{Key: "e_on", Unit: "J", Points: points}
	check := func(got []Rounded, want int) {
		t.Helper()
		if len(got) != want {
			t.Fatalf("%d points of %d", len(got), want)
		}
		for _, r := range got {
			truth := invented.Eval(inventedP, r.At)
			if math.Abs(r.Y-truth) > 4*r.U || math.Mod(r.I, 20) != 0 || math.Mod(r.V, 200) != 0 || r.Y-r.Changed != r.From.Y && math.Abs(r.Y-r.Changed-r.From.Y) > 1e-12*truth {
				t.Errorf("%s at %g V, %g A: %g with u %g, invented %g, changed by %g", r.From.Name, r.V, r.I, r.Y, r.U, truth, r.Changed)
			}
		}
	}
	check(s.rounded(f, nil), len(points))
	for k := range points {
		points[k].PlanI, points[k].PlanV = 0, 0
	}
	check(s.rounded(f, map[Variable][]float64{Current: {20, 40, 60, 80, 100}, Bus: {400, 600, 800}}), len(points))
	if got := s.rounded(f, map[Variable][]float64{Current: {300}}); len(got) != 0 {
		t.Errorf("%d points were brought to 300 A", len(got))
	}
	if rows := RoundedRows(s.rounded(f, map[Variable][]float64{Bus: {820}})); len(rows) != 21 || rows[1][11] != "" || rows[1][14] != "no" {
		t.Errorf("%d rows, the first %v; expected the 20 points at 800 V, without a value beyond the data", len(rows), rows[1])
	}
}

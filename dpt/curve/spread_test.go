package curve

import (
	"fmt"
	"math"
	"slices"
	"testing"
)

// The z-scores are arithmetic by hand: of 10 10.1 9.9 10.05 9.95 and one more the
// median absolute deviation is 0.05 to 0.075, so 11 stands out and 10.3 does not.
func TestStandOut(t *testing.T) {
	for _, c := range []struct {
		last float64
		n    int
		want []string
	}{{11, 6, []string{"5"}}, {10.3, 6, nil}, {11, 4, nil}} {
		var points []Point
		for k, y := range []float64{10, 10.1, 9.9, 10.05, 9.95, c.last}[6-c.n:] {
			points = append(points, Point{At: At{I: 50, V: 600}, Name: fmt.Sprint(k + 6 - c.n), Y: y, U: math.NaN()})
		}
		s := Series{Key: "e_on", Points: points}
		got := s.Spreads()
		if len(got) != 1 || !slices.Equal(got[0].Outliers, c.want) || got[0].N != c.n || got[0].Max != c.last {
			t.Errorf("last %g of %d: %+v; want %v and none deleted", c.last, c.n, got, c.want)
		}
	}
	// Half of them equal: the mean deviation takes over.
	same := []Point{}
	for k, y := range []float64{5, 5, 5, 5, 5, 5, 5, 5, 9} {
		same = append(same, Point{Name: fmt.Sprint(k), Y: y})
	}
	if got := standOut(same); !slices.Equal(got, []string{"8"}) {
		t.Errorf("nine equal but one: %v", got)
	}
}

// Steps of a plan that measured values could not tell apart stay apart; a shot
// far from its plan counts where it was measured.
func TestPlannedGroups(t *testing.T) {
	at := func(measured, planned float64) Point {
		return Point{At: At{I: measured, V: 600, Tj: 300, Rg: 5}, Name: fmt.Sprint(measured), PlanI: planned, PlanV: 600}
	}
	points := []Point{at(100.4, 100), at(101.6, 103), at(99.2, 100), at(104, 103)}
	var got []float64
	for _, g := range groups(points, "") {
		got = append(got, g.at.I)
	}
	if !slices.Equal(got, []float64{100, 103}) {
		t.Errorf("groups at %v A; want 100, 103", got)
	}
	if far := groups([]Point{at(100, 100), at(150, 100)}, ""); len(far) != 2 {
		t.Errorf("150 A counts as 100 A: %v", far)
	}
}

package reports

import (
	"bytes"
	"encoding/csv"
	"math"
	"strconv"
	"strings"
	"testing"

	"slewbook/dpt/result"
)

// locusOf returns the points of the curves of a locus, by name, and its other rows.
func locusOf(t *testing.T, s *result.Shot, locus Locus) (curves map[string][][2]float64, others [][]string) {
	t.Helper()
	f, err := DrawLocus(s, locus, Styles()[0])
	if err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	if err := f.WriteCSV(&b); err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(&b).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	if strings.Join(rows[0], ",") != "panel,item,label,x,y,unit,unit of x" {
		t.Fatalf("header %q", rows[0])
	}
	curves = map[string][][2]float64{}
	for _, r := range rows[1:] {
		if r[1] != "curve" {
			others = append(others, r)
			continue
		}
		if r[5] != "A" || r[6] != "V" {
			t.Fatalf("units %q against %q", r[5], r[6])
		}
		x, errX := strconv.ParseFloat(r[3], 64)
		y, errY := strconv.ParseFloat(r[4], 64)
		if errX != nil || errY != nil {
			t.Fatal(errX, errY)
		}
		curves[r[2]] = append(curves[r[2]], [2]float64{x, y})
	}
	return curves, others
}

// The locus goes through what the signals are made of: half the bus at the event,
// the peaks of both, in their own formulas.
func TestLocus(t *testing.T) {
	s := halfBridge(0.8e-9)
	curves, others := locusOf(t, s, Locus{})
	for name, at := range map[string]float64{"Turn-off of pulse 1": fixOff1, "Turn-on of pulse 2": fixOn2} {
		if len(curves[name]) < 30 {
			t.Fatalf("%s has %d points", name, len(curves[name]))
		}
		for ns := -10.0; ns <= 10; ns++ {
			v, i := fixV(at+ns*1e-9), fixI(at+ns*1e-9)
			near := math.Inf(1)
			line := curves[name]
			for k := 1; k < len(line); k++ {
				near = min(near, distance([2]float64{v / 800, i / 60}, line[k-1], line[k]))
			}
			// A sample is up to 0.4 ns away, on edges of some 60 V/ns whose chord leaves
			// the arc by less than 1 %.
			if near > 0.02 {
				t.Errorf("%s: %.0f V, %.1f A at %g ns is off the line by %.3f of the axes", name, v, i, ns, near)
			}
		}
	}
	for _, r := range others {
		if r[1] == "level" {
			t.Errorf("a limit that nobody gave: %q", r)
		}
	}
}

// distance from a point to a piece of a line in units of 800 V and 60 A.
func distance(p, a, b [2]float64) float64 {
	a, b = [2]float64{a[0] / 800, a[1] / 60}, [2]float64{b[0] / 800, b[1] / 60}
	d := [2]float64{b[0] - a[0], b[1] - a[1]}
	part := ((p[0]-a[0])*d[0] + (p[1]-a[1])*d[1]) / (d[0]*d[0] + d[1]*d[1])
	part = min(max(part, 0), 1)
	return math.Hypot(p[0]-a[0]-part*d[0], p[1]-a[1]-part*d[1])
}

// Limits stand where they were given, and logarithmic axes leave out what they
// cannot show.
func TestLocusLimits(t *testing.T) {
	s := halfBridge(0.8e-9)
	limits := result.Ratings{VMax: 1200, IMax: 120, RBSOA: []result.Corner{{V: 1000, I: 240}, {V: 1200, I: 120}}}
	linear, others := locusOf(t, s, Locus{Ratings: limits})
	if area := linear["RBSOA, as given"]; len(area) != 4 || area[1] != [2]float64{1000, 240} || area[3] != [2]float64{1200, 0} {
		t.Errorf("corners %v", area)
	}
	found := 0
	for _, r := range others {
		if r[1] == "level" && r[4] == "120" || r[1] == "event" && r[3] == "1200" {
			found++
		}
	}
	if found != 2 {
		t.Errorf("%d of the two ratings", found)
	}
	curves, _ := locusOf(t, s, Locus{Log: true, Ratings: limits})
	points := 0
	for name, line := range curves {
		for _, p := range line {
			if p[0] < 1 || p[1] < 0.3 {
				t.Fatalf("%s: %g V, %g A on logarithmic axes", name, p[0], p[1])
			}
			points++
		}
	}
	if all := len(linear["Turn-off of pulse 1"]) + len(linear["Turn-on of pulse 2"]); points >= all {
		t.Errorf("%d points, %d on linear axes: the ringing through zero is left out nowhere", points, all)
	}
}

func TestDecadeTicks(t *testing.T) {
	var labels []string
	for _, tick := range (decadeTicks{1}).Ticks(0.4, 120) {
		labels = append(labels, tick.Label)
	}
	if got := strings.Join(labels, " "); strings.Join(strings.Fields(got), " ") != "0.5 1 2 5 10 20 50 100" || len(labels) != 25 {
		t.Errorf("%d ticks: %s", len(labels), got)
	}
}

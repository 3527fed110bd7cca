package curve

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"strings"
	"testing"

	"slewbook/dpt/result"
)

// shotsOn makes shots of the invented surface.
func shotsOn(points []Point) []*result.Shot {
	var out []*result.Shot
	for _, p := range points {
		q := func(key, unit string, value, u float64) result.Measurement {
			return result.Measurement{Key: key, Unit: unit, Value: value, U: u, Definition: "d"}
		}
		out = append(out, &result.Shot{Capture: p.Name, Conditions: []result.Condition{{Key: "tj", Value: p.Tj, Unit: "K"}, {Key: "rg_on", Value: p.Rg, Unit: "ohm"}, {Key: "device", Text: "invented", Value: math.NaN()}},
			Quantities: []result.Measurement{q("v_bus_on", "V", p.V, 1), q("i_on", "A", p.I, .1), q("e_on", "J", p.Y, p.U), q("i_peak", "A", 1.5*p.I, .2)}})
	}
	return out
}

// TestBook: of 60 shots over four conditions each chart holds at most six lines
// that differ in one condition, each point stands where it was measured, no
// line leaves the points, and a fault is flagged and kept.
func TestBook(t *testing.T) {
	points := campaign(rand.New(rand.NewPCG(9, 2)), invented, inventedP, 0.01, 0)
	points[17].Y *= 1.4
	b, err := NewBook(shotsOn(points), BookOptions{Options: Defaults()})
	if err != nil {
		t.Fatal(err)
	}
	seen, flagged := map[string]int{}, map[string]bool{}
	for _, c := range b.Charts {
		if c.Key != "e_on" {
			continue
		}
		if len(c.Lines) > mostLines || len(c.Lines) == 0 {
			t.Errorf("%s over %s: %d lines", c.Key, c.Over, len(c.Lines))
		}
		for _, l := range c.Lines {
			if strings.Contains(l.Label, ", ") {
				t.Errorf("%s over %s: a line for %q; expected one condition", c.Key, c.Over, l.Label)
			}
			lo, hi := math.Inf(1), math.Inf(-1)
			for _, d := range l.Dots {
				lo, hi = min(lo, d.X), max(hi, d.X)
				if c.Over == "i" {
					seen[d.Capture]++
					if d.X != d.I {
						t.Errorf("%s stands at %g A, measured at %g A", d.Capture, d.X, d.I)
					}
				}
				if d.Outlier {
					flagged[d.Capture] = true
				}
			}
			for _, q := range l.Fit {
				if q.X < lo-1e-9 || q.X > hi+1e-9 {
					t.Errorf("the fit over %s is drawn at %g, data end at %g and %g", c.Over, q.X, lo, hi)
				}
			}
		}
	}
	if len(seen) != 60 || !flagged["17"] || len(flagged) > 2 {
		t.Errorf("%d captures on the charts, flagged %v", len(seen), flagged)
	}
	if len(b.Grids) != 1 || b.Grids[0].Check() != nil {
		t.Errorf("%d grids", len(b.Grids))
	}
}

// TestItems: all thirteen headings are there, and what no shot states is
// missing.
func TestItems(t *testing.T) {
	shots := shotsOn(campaign(rand.New(rand.NewPCG(9, 2)), invented, inventedP, 0.01, 0))
	shots[0].Corrections = []result.Correction{{Channel: result.Id, Kind: "zero", Value: -0.25, Unit: "A"}, {Channel: result.Id, Kind: "delay", Value: 2e-9, Unit: "s"}}
	shots[1].Corrections = []result.Correction{{Channel: result.Id, Kind: "zero", Value: 0.5, Unit: "A"}}
	for k, s := range shots {
		s.Channels = []result.Recording{{Role: result.Vds, Points: 10000, Dt: 8e-10, Bits: 12, Bandwidth: 500e6, Range: 1200, Calibrated: "2026-03-01"},
			{Role: result.Id, Points: 10000, Dt: 8e-10, Bits: 12, Bandwidth: math.NaN(), Range: 300, Calibrated: "2026-03-01", Due: "2027-03-01"}}
		s.Events = []result.Event{{Edge: result.TurnOn, Pulse: 1, T: 1e-6}, {Edge: result.TurnOff, Pulse: 1, T: 5e-6 + float64(k)*1e-8}, {Edge: result.TurnOn, Pulse: 2, T: 8e-6 + float64(k)*1e-8}}
	}
	s, err := Collect(shots, "e_on")
	if err != nil {
		t.Fatal(err)
	}
	items := Items(shots, []*Series{s})
	if len(items) != 13 {
		t.Fatalf("%d headings", len(items))
	}
	known, missing := "", ""
	for _, i := range items {
		known += strings.Join(i.Known, "; ") + "; "
		missing += strings.Join(i.Missing, "; ") + "; "
	}
	for _, want := range []string{"bits 12; sample rate 1.25 GS/s; record length 10000 samples (8.00 µs); full scale vds 1.2 kV, id 300 A;", "bandwidths vds 500 MHz;", "calibration dates vds 2026-03-01, id 2026-03-01 (due 2027-03-01);",
		"widths 4.00 µs to 4.59 µs as measured; gap 3.00 µs as measured;", "type and number invented;", "external resistor on 2.50 Ω, 7.50 Ω;", "junction 25.0 °C, 125 °C;", "e_on by d;",
		fmt.Sprintf("zero of id -250 mA to 500 mA in 2 of %d shots; delay of id 2.00 ns in 1 of %[1]d shots;", len(shots))} {
		if !strings.Contains(known, want) {
			t.Errorf("known is %s; expected %s", known, want)
		}
	}
	for _, want := range []string{"lot;", "bandwidths of id;", "capacitance;", "scope;", "people;", "external resistor off;"} {
		if !strings.Contains(missing, want) {
			t.Errorf("missing is %s; expected %s", missing, want)
		}
	}
}

// Split by a condition each value has lines and a grid of its own; without that the
// shots of unlike values are told to be put together.
func TestBookBy(t *testing.T) {
	r := rand.New(rand.NewPCG(9, 2))
	shots := shotsOn(campaign(r, invented, inventedP, 0.01, 0))
	other := shotsOn(campaign(r, invented, inventedP, 0.01, 0))
	for _, s := range other {
		s.Capture = "other " + s.Capture
		s.Quantity("e_on").Value *= 1.2
		s.Condition("device").Text = "another"
	}
	shots = append(shots, other...)
	b, err := NewBook(shots, BookOptions{Options: Defaults(), Keys: []string{"e_on"}})
	if err != nil {
		t.Fatal(err)
	}
	if text := strings.Join(b.Notes, "; "); !strings.Contains(text, "unlike device are put together: invented, another") {
		t.Errorf("notes: %s", text)
	}
	if b, err = NewBook(shots, BookOptions{Options: Defaults(), Keys: []string{"e_on"}, By: "device"}); err != nil {
		t.Fatal(err)
	}
	if text := strings.Join(b.Notes, "; "); strings.Contains(text, "device") || len(b.Grids) != 2 || len(b.Lacks) > 0 {
		t.Errorf("notes %s, lacks %v, %d grids", text, b.Lacks, len(b.Grids))
	}
	at := At{I: 60, V: 600, Tj: 350, Rg: 5}
	values := map[string]float64{}
	for _, g := range b.Grids {
		e, err := g.At(at)
		if err != nil {
			t.Fatal(err)
		}
		values[g.Part] = e.Value
		if text := fmt.Sprint(g.Conditions); text != "[[device "+g.Part+"]]" {
			t.Errorf("grid of %s holds the conditions %s", g.Part, text)
		}
	}
	if ratio := values["another"] / values["invented"]; math.Abs(ratio-1.2) > 0.02 {
		t.Errorf("the parts differ by %g, expected 1.2", ratio)
	}
	for _, c := range b.Charts {
		if len(c.Lines) == 2 && (c.Lines[0].Label != "another" || c.Lines[1].Label != "invented") {
			t.Errorf("%s over %s: lines %q and %q", c.Key, c.Over, c.Lines[0].Label, c.Lines[1].Label)
		}
	}
}

// The README names every note that the record of conditions looks for.
func TestReadmeNotes(t *testing.T) {
	readme, err := os.ReadFile("../../README.md")
	if err != nil {
		t.Fatal(err)
	}
	for _, heading := range asked {
		for _, p := range heading.parts {
			if keys := strings.Fields(p.keys); len(keys) > 0 && !strings.Contains(string(readme), "`"+keys[0]+"`") {
				t.Errorf("%s: the README does not name %q", heading.name, keys[0])
			}
		}
	}
}

// What is noted in words of one's own counts for the record of the test.
func TestItemsOfNotes(t *testing.T) {
	shots := shotsOn(campaign(rand.New(rand.NewPCG(9, 2)), invented, inventedP, 0.01, 0))
	for _, s := range shots {
		s.Conditions = append(s.Conditions, result.Condition{Key: "note.lot", Text: "seven", Value: math.NaN()})
	}
	if known := strings.Join(Items(shots, nil)[0].Known, "; "); !strings.Contains(known, "lot seven") {
		t.Errorf("known: %s", known)
	}
}

package main

import (
	"bytes"
	"encoding/csv"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"slewbook/dpt"
	"slewbook/dpt/loss"
	"slewbook/dpt/plan"
	"slewbook/dpt/result"
	"slewbook/reports"
	"slewbook/waveform"
	"slewbook/waveform/format"
)

// explainedShot measures the 60 A shot of the examples as explain does.
func explainedShot(t *testing.T) *result.Shot {
	t.Helper()
	flags := explainFlags{setup: filepath.Join(root, "examples", "bench.toml")}
	_, opt, err := flags.options("e_off")
	if err != nil {
		t.Fatal(err)
	}
	return measuredExample(t, opt)
}

// exampleShot measures it with other definitions.
func exampleShot(t *testing.T, choose func(*definitionFlags)) *result.Shot {
	t.Helper()
	bench, err := loadBench(filepath.Join(root, "examples", "bench.toml"))
	if err != nil {
		t.Fatal(err)
	}
	opt, err := bench.options()
	if err != nil {
		t.Fatal(err)
	}
	var chosen definitionFlags
	choose(&chosen)
	if err := chosen.apply(&opt); err != nil {
		t.Fatal(err)
	}
	return measuredExample(t, opt)
}

func measuredExample(t *testing.T, opt dpt.Options) *result.Shot {
	t.Helper()
	sources, _, err := format.Find(filepath.Join(root, "examples", "captures", "i-60A.csv.gz"), format.Options{})
	if err != nil {
		t.Fatal(err)
	}
	captures, err := sources[0].Read()
	if err != nil {
		t.Fatal(err)
	}
	shot, err := dpt.Measure(captures[0], opt)
	if err != nil {
		t.Fatal(err)
	}
	return &shot
}

// whyRows returns the rows of the numbers beside the figure of a quantity.
func whyRows(t *testing.T, s *result.Shot, key string) [][]string {
	t.Helper()
	figures, err := reports.DrawWhy(s, key, reports.Styles()[0])
	if err != nil {
		t.Fatalf("%s: %v", key, err)
	}
	var b bytes.Buffer
	if err := figures[0].WriteCSV(&b); err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(&b).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	return rows
}

func float(t *testing.T, text string) float64 {
	t.Helper()
	x, err := strconv.ParseFloat(text, 64)
	if err != nil {
		t.Fatal(err)
	}
	return x
}

// Every quantity has a figure; it shades what the number was read on, and its
// running integral, which the figure adds up by trapezoids on the samples, ends at
// the number.
func TestExplainFigures(t *testing.T) {
	s := explainedShot(t)
	integrals := 0
	for _, m := range s.Quantities {
		for _, row := range whyRows(t, s, m.Key) {
			panel, item, label := row[0], row[1], row[2]
			if item == "window" && panel == "vds" {
				if x := float(t, row[3]); x != m.Over.From && x != m.Over.To {
					t.Errorf("%s: the window is shaded %s %g; it was read on %v", m.Key, label, x, m.Over)
				}
			}
			if item == "mark" && panel == "running integral" && row[5] == m.Unit && !strings.Contains(m.Key, "channel") {
				integrals++
				// The trapezoid rule and a straight line over the last sample are off by less
				// than 1 % with the 15 samples and more of these edges.
				if y := float(t, row[4]); math.Abs(y-m.Value) > 0.01*math.Abs(m.Value) && !strings.Contains(m.Key, "tail") && m.Key != "q_rr.triangle" {
					t.Errorf("%s: the running integral ends at %g; the number is %g", m.Key, y, m.Value)
				}
			}
		}
	}
	if integrals < 25 {
		t.Errorf("%d running integrals", integrals)
	}
}

// What is drawn agrees with formulas that had no part in it.
func TestExplainDrawings(t *testing.T) {
	s := explainedShot(t)
	for _, key := range []string{"e_off", "e_on"} {
		m := s.Quantity(key)
		lag := m.Drawing.Sweeps[0]
		mid := len(lag.X) / 2
		if lag.X[mid] != 0 || math.Abs(lag.Y[mid]/m.Value-1) > 1e-9 {
			t.Errorf("%s: with no more lag (%g s) it is %g, not %g", key, lag.X[mid], lag.Y[mid], m.Value)
		}
		// dE/dτ = -∫ v di (integration by parts), with the window's ends fixed; they move
		// with the current where i sets them, which at small v or i is worth little.
		slope := (lag.Y[mid+1] - lag.Y[mid-1]) / (lag.X[mid+1] - lag.X[mid-1])
		if math.Abs(slope/m.PerDelay-1) > 0.1 {
			t.Errorf("%s: slope of the sweep %g J/s, -∫v di %g J/s", key, slope, m.PerDelay)
		}
		end := m.Drawing.Sweeps[1]
		for k, x := range end.X {
			if x == 0.10 {
				other := s.Quantity(map[string]string{"e_off": "e_off.v10-i10", "e_on": "e_on.i10-v10"}[key])
				if math.Abs(end.Y[k]/other.Value-1) > 1e-9 {
					t.Errorf("%s to 10 %% is %g in the sweep and %g as %s", key, end.Y[k], other.Value, other.Key)
				}
			}
		}
	}
	misfit := func(key, name string, tr *waveform.Trace, over waveform.Interval) (rms float64) {
		for _, c := range s.Quantity(key).Drawing.Lines {
			if c.Trace.Name != name {
				continue
			}
			lo, hi := tr.Indices(over)
			for k := lo; k < hi; k++ {
				d := tr.Y[k] - c.Trace.At(tr.Time(k))
				rms += d * d / float64(hi-lo)
			}
			return math.Sqrt(rms)
		}
		t.Errorf("%s: nothing called %q is drawn", key, name)
		return math.NaN()
	}
	v := s.Traces[result.Vds]
	ring := s.Quantity("f_ring_off").Over
	if rms := misfit("f_ring_off", "fitted oscillation", v, ring); !(rms < 0.1*waveform.StdDev(v.Samples(ring))) {
		t.Errorf("the fitted ringing is off the trace by %.3g V", rms)
	}
	dip := s.Quantity("l_loop").Over
	// The dip is some 50 V deep.
	if rms := misfit("l_loop", "v_bus - L·di/dt", v, dip); !(rms < 4) {
		t.Errorf("v_bus - L·di/dt is off the trace by %.3g V", rms)
	}
}

// explain --out writes each figure whole, in the formats asked for.
func TestExplainOut(t *testing.T) {
	dir := t.TempDir()
	var out, errs bytes.Buffer
	args := []string{"explain", filepath.Join(root, "examples", "captures", "i-60A.csv.gz"), "q_rr.line-75-50", "--out", dir, "--figure-format", "svg,pdf", "--style", "slide"}
	if code := run(args, &out, &errs); code != exitDone {
		t.Fatalf("exit status %d: %s", code, errs.String())
	}
	for _, name := range []string{"i-60A-q_rr-line-75-50.svg", "i-60A-q_rr-line-75-50.pdf", "i-60A-q_rr-line-75-50.csv", "i-60A-q_rr-line-75-50-why-1.svg"} {
		if info, err := os.Stat(filepath.Join(dir, name)); err != nil || info.Size() < 1000 {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// Every figure of plan and losses is told with its formula, and each of its inputs with
// its unit; a key that has none is a switch, a grid or a list of on-states.
func TestExplainEveryFigure(t *testing.T) {
	without := map[string]bool{"diode.on": true, "transistor.on": true, "grid of e_on": true, "grid of e_off": true, "grid of e_rr": true, "grids": true,
		"bits_v": true, "bits_i": true, "channel.vds.bits": true, "channel.id.bits": true, "scope.depth": true}
	count := 0
	check := func(name string, f result.PlanFigure) {
		var stdout, stderr strings.Builder
		if code := run([]string{"explain", name}, &stdout, &stderr); code != exitDone {
			t.Fatalf("%s: %s", name, stderr.String())
		}
		text := strings.Join(strings.Fields(stdout.String()), " ")
		for _, want := range append([]string{strings.Join(strings.Fields(f.Formula), " "), f.Source}, f.Inputs...) {
			if !strings.Contains(text, want) {
				t.Errorf("%s lacks %q:\n%s", name, want, stdout.String())
			}
		}
		for _, in := range f.Inputs {
			if has := strings.Contains(text, in+" ["); has == without[in] {
				t.Errorf("%s: input %s has a unit: %v\n%s", name, in, has, stdout.String())
			}
		}
		count++
	}
	for _, f := range plan.Figures {
		check("plan."+f.Key, f.PlanFigure)
	}
	for _, f := range loss.Figures {
		check("losses."+f.Key, f.PlanFigure)
	}
	if count < 60 {
		t.Errorf("%d figures", count)
	}
}

// With the set-up the inputs have their values, and each point its own.
func TestExplainFigureOfABench(t *testing.T) {
	var stdout, stderr strings.Builder
	if code := run([]string{"explain", "plan.e_bank", "--setup", filepath.Join(root, "examples", "plan.toml")}, &stdout, &stderr); code != exitDone {
		t.Fatal(stderr.String())
	}
	for _, want := range []string{"circuit.c_bus = 200.0 µF, v_set [V]", "no    v_bus    i_off    v_set   e_bank", "1  400.0 V  60.00 A  402.2 V  16.18 J"} {
		if !strings.Contains(stdout.String(), want) {
			t.Errorf("expected %q in\n%s", want, stdout.String())
		}
	}
	if code := run([]string{"explain", "losses.p_rr", "--setup", filepath.Join(root, "examples", "plan.toml")}, &stdout, &stderr); code != exitFailed {
		t.Errorf("a set-up for losses: exit status %d", code)
	}
}

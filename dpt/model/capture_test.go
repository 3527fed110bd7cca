package model

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"math"
	"strconv"
	"strings"
	"testing"

	"slewbook/waveform"
)

// The same seed gives the same capture, another one another.
func TestSeeds(t *testing.T) {
	w, in := Demo(600, 25).Waveforms(), DemoInstrument()
	text := func(seed uint64) string {
		var b bytes.Buffer
		if err := WriteCSV(&b, Capture(w, in, seed)); err != nil {
			t.Fatal(err)
		}
		return b.String()
	}
	first, again, other := text(7), text(7), text(8)
	if first != again {
		t.Error("seed 7 gave two different captures")
	}
	if first == other {
		t.Error("seeds 7 and 8 gave the same capture")
	}
}

// What the file says is what the capture holds: values to a thousandth of the
// finest bit, times on an even grid to a femtosecond.
func TestWriteCSV(t *testing.T) {
	c := Capture(Demo(600, 25).Waveforms(), DemoInstrument(), 3)
	var b bytes.Buffer
	if err := WriteCSV(&b, c); err != nil {
		t.Fatal(err)
	}
	if !strings.HasPrefix(b.String(), "Time (s),Vds (V),Id (A),Vgs (V)\n") {
		t.Errorf("header: %q", b.String()[:40])
	}
	rows, err := csv.NewReader(&b).ReadAll()
	if err != nil || len(rows) != c.Traces[0].Len()+1 {
		t.Fatalf("%d rows, %v", len(rows), err)
	}
	for k, row := range rows[1:] {
		for j, cell := range row {
			x, err := strconv.ParseFloat(cell, 64)
			if err != nil {
				t.Fatal(err)
			}
			want, tol := c.Traces[0].Time(k), 1e-15
			if j > 0 {
				want, tol = c.Traces[j-1].Y[k], 1e-5
			}
			near(t, row[0], x, want, tol)
		}
	}
	if err := WriteCSV(&b, &waveform.Capture{}); err == nil {
		t.Error("a capture without traces was written")
	}
}

// Each error of a channel does what it says, on a line of slope 2 per second.
func TestChannel(t *testing.T) {
	line := func(t float64) float64 { return 2 * t }
	w := &Waveforms{V: line, I: line, Vg: line, Span: waveform.Interval{From: 0, To: 10}}
	read := func(ch Channel) *waveform.Trace { return Capture(w, Instrument{Fs: 1, V: ch}, 1).Traces[0] }
	at := func(ch Channel, k int) (float64, float64) { tr := read(ch); return tr.Y[k], tr.Time(k) }
	y, x := at(Channel{Delay: 0.25}, 3)
	near(t, "delay", y, 2*(x-0.25), 1e-12)
	y, x = at(Channel{GainError: 0.1, Offset: 1}, 3)
	near(t, "gain and offset", y, 2.2*x+1, 1e-12)
	y, x = at(Channel{Bandwidth: 1}, 3)
	near(t, "bandwidth leaves a line alone", y, 2*x, 1e-9)
	y, _ = at(Channel{Bits: 3, Range: waveform.Range{Min: 0, Max: 4}}, 8)
	near(t, "top code", y, 3.75, 1e-12)
	y, x = at(Channel{Bits: 12, Range: waveform.Range{Min: 0, Max: 64}}, 3)
	near(t, "quantised", y, 2*x, 64.0/4096/2)
}

// The Gaussian low-pass is 3 dB down at its bandwidth, and so are the two others,
// whose centroid is taken off so that they do not shift a ramp.
func TestRespond(t *testing.T) {
	span := waveform.Interval{From: 0, To: 200e-9}
	for _, poles := range []int{0, 1, 2} {
		ch := Channel{Bandwidth: 100e6, Beyond: Beyond{Poles: poles}}
		sine := ch.respond(func(t float64) float64 { return math.Sin(2 * math.Pi * 100e6 * t) }, span, 1e-9)
		most := 0.0
		for x := 150e-9; x < 160e-9; x += 0.01e-9 {
			most = max(most, sine(x))
		}
		near(t, fmt.Sprintf("gain with %d poles", poles), most, math.Sqrt(0.5), 5e-3)
		ramp := ch.respond(func(t float64) float64 { return 1e9 * t }, span, 1e-9)
		near(t, fmt.Sprintf("ramp with %d poles", poles), ramp(100.3e-9), 100.3, 5e-3)
	}
}

// A droop of time constant T lets a step fall as exp(-t/T); an overload leaves a
// part that goes with its own time constant; a ground lead overshoots a step.
func TestBeyond(t *testing.T) {
	span := waveform.Interval{From: 0, To: 10e-6}
	step := func(t float64) float64 { return 100 * smoothstep((t-1e-6)/10e-9) }
	droop := Channel{Beyond: Beyond{Droop: 100e-6}}.respond(step, span, 1e-9)
	near(t, "droop", droop(6.005e-6), 100*math.Exp(-0.05), 0.02)
	over := Channel{Beyond: Beyond{Overload: 0.01, Recovery: 1e-6}}.respond(step, span, 1e-9)
	near(t, "overload", over(2.005e-6), 100-math.Exp(-1), 0.02)
	lead := Channel{Beyond: Beyond{Lead: 0.1, LeadF: 5e6, LeadZeta: 0.1}}.respond(step, span, 1e-9)
	_, most := highest(lead, 1e-6, 1.3e-6, 0.1e-9)
	// A second-order step of ζ = 0.1 overshoots by exp(-πζ/√(1 - ζ²)) = 72.9 %, less for the edge's own 10 ns.
	near(t, "ground lead", most, 100+10*0.729, 0.2)
	near(t, "settled", lead(9e-6), 100, 1e-3)
}

func TestCampaign(t *testing.T) {
	shots := Campaign()
	if len(shots) != 12 || shots[5].Name != "bus-600V/i-050A" {
		t.Errorf("%d shots, the sixth is %q", len(shots), shots[5].Name)
	}
}

// Energies rise with current and with voltage, as those of every device do.
func TestTrends(t *testing.T) {
	known := func(v, i float64) map[string]Answer { return Known(Demo(v, i).Waveforms(), DemoInstrument()).Values }
	low, mid, high := known(300, 50), known(600, 50), known(600, 100)
	for _, key := range []string{"e_on", "e_off", "v_peak", "i_peak"} {
		if key != "i_peak" && !(low[key].Value < mid[key].Value) || !(mid[key].Value < high[key].Value) {
			t.Errorf("%s: %g, %g, %g", key, low[key].Value, mid[key].Value, high[key].Value)
		}
	}
}

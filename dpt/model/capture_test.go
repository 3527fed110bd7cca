package model

import (
	"bytes"
	"encoding/csv"
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

// The Gaussian low-pass is 3 dB down at its bandwidth.
func TestLowPass(t *testing.T) {
	sine := func(t float64) float64 { return math.Sin(2 * math.Pi * 100e6 * t) }
	near(t, "gain", lowPass(sine, 2.5e-9, 100e6), math.Sqrt(0.5), 1e-3)
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

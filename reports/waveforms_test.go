package reports

import (
	"encoding/base64"
	"encoding/binary"
	"math"
	"testing"

	"slewbook/dpt/result"
	"slewbook/waveform"
)

// unpackCodes reads what packCodes wrote.
func unpackCodes(t *testing.T, text string) []int16 {
	t.Helper()
	b, err := base64.StdEncoding.DecodeString(text)
	if err != nil {
		t.Fatal(err)
	}
	var out []int16
	for k := 0; k < len(b); k += 2 {
		out = append(out, int16(binary.LittleEndian.Uint16(b[k:])))
	}
	return out
}

// Near an edge every sample is there to half a step; elsewhere the groups hold the
// least and the largest; samples that are none stay none.
func TestCompact(t *testing.T) {
	y := make([]float64, 50000)
	for k := range y {
		y[k] = 400 + 400*math.Sin(float64(k)/900)
	}
	y[10], y[25000] = math.Inf(1), math.NaN()
	tr := &waveform.Trace{T0: -1e-6, Dt: 1e-9, Y: y}
	s := &result.Shot{Capture: "a", Traces: map[result.Role]*waveform.Trace{result.Vds: tr},
		Edges: []result.EdgeMarks{{Window: waveform.Interval{From: 24e-6, To: 24.1e-6}}}}
	w := Compact(s)
	got := w.Traces[0]
	step := float64(got.Scale)
	if math.Abs(step-800/65534.) > 1e-4*step || len(got.Full) != 1 {
		t.Fatalf("step %g, %d stretches", step, len(got.Full))
	}
	at, codes := got.Full[0].At, unpackCodes(t, got.Full[0].Codes)
	if want := 25000 - 300; at != want || len(codes) < 1200 {
		t.Errorf("%d samples from %d; want 1200 from %d", len(codes), at, want)
	}
	for k, c := range codes {
		back := float64(got.Offset) + step*float64(c)
		switch exact := y[at+k]; {
		case math.IsNaN(exact):
			if c != noSample {
				t.Errorf("sample %d is none and came back as %g", at+k, back)
			}
		case math.Abs(back-exact) > 0.51*step:
			t.Fatalf("sample %d: %g; want %g", at+k, back, exact)
		}
	}
	least, most := unpackCodes(t, got.Least), unpackCodes(t, got.Most)
	for g := range least {
		a, b := math.Inf(1), math.Inf(-1)
		for _, x := range y[g*got.Every : min((g+1)*got.Every, len(y))] {
			if x-x == 0 {
				a, b = min(a, x), max(b, x)
			}
		}
		if math.Abs(float64(got.Offset)+step*float64(least[g])-a) > 0.51*step || math.Abs(float64(got.Offset)+step*float64(most[g])-b) > 0.51*step {
			t.Fatalf("group %d", g)
		}
	}
	if Compact(&result.Shot{}) != nil {
		t.Error("a shot without traces has waveforms")
	}
}

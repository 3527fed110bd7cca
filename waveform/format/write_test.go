package format

import (
	"bytes"
	"io"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"slewbook/waveform"
)

var writers = map[string]func(io.Writer, *waveform.Capture) error{"a.csv": WriteCSV, "a.npz": WriteNpz, "a.parquet": WriteParquet}

// What is written reads back as the same capture, to the last bit.
func TestRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(2, 60).Draw(t, "n")
		sample := rapid.OneOf(rapid.Float64Range(-1e9, 1e9), rapid.SampledFrom([]float64{math.Inf(1), math.Inf(-1), math.NaN(), 0, 4.9e-324, 1.7e308}))
		a := waveform.Trace{T0: rapid.Float64Range(-1e-3, 1e-3).Draw(t, "t0"), Dt: rapid.Float64Range(1e-12, 1e-6).Draw(t, "dt")}
		c := &waveform.Capture{Segments: 1, Header: []waveform.Field{{Key: "Y Multiplier", Value: "3"}, {Key: "Sample Interval", Value: "7"}, {Key: "Segments", Value: "2"}}}
		for k, name := range []string{"Vds", "Id, \"probe\" 1", "CH3 (mV)"}[:rapid.IntRange(1, 3).Draw(t, "traces")] {
			tr := a
			tr.Name, tr.Unit = name, []string{"V", "A", ""}[k]
			tr.Y = rapid.SliceOfN(sample, n, n).Draw(t, "y")
			tr.Y[0], tr.Y[1] = 1.5, -0.1 // flat tops and empty channels are another matter
			c.Traces = append(c.Traces, &tr)
		}
		for file, write := range writers {
			var b bytes.Buffer
			if err := write(&b, c); err != nil {
				t.Fatal(file, err)
			}
			got, err := readInput(Input{Name: file, Data: b.Bytes()})
			if err != nil {
				t.Fatal(file, err, b.String())
			}
			same(t, file, c, got[0])
		}
	})
}

// Traces on axes of their own keep them; a Parquet table has room for one.
func TestRoundTripOfAxes(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := &waveform.Capture{Segments: 1}
		for k, name := range []string{"Vds", "Id", "Vgs"} {
			tr := &waveform.Trace{Name: name, Unit: []string{"V", "A", "V"}[k], T0: rapid.Float64Range(-1e-6, 1e-6).Draw(t, "t0"), Dt: rapid.SampledFrom([]float64{8e-10, 1.6e-9, 1e-9 / 3}).Draw(t, "dt")}
			if k > 0 && rapid.Bool().Draw(t, "as before") {
				tr.T0, tr.Dt = c.Traces[k-1].T0, c.Traces[k-1].Dt
			}
			for i := range rapid.IntRange(20, 40).Draw(t, "n") {
				tr.Y = append(tr.Y, float64(i*i%7)+0.1)
			}
			c.Traces = append(c.Traces, tr)
		}
		for file, write := range writers {
			var b bytes.Buffer
			err := write(&b, c)
			if file == "a.parquet" && !oneAxis(c) {
				if err == nil || !strings.Contains(err.Error(), "different time axes") {
					t.Fatal(err)
				}
				continue
			}
			if err != nil {
				t.Fatal(file, err)
			}
			got, err := readInput(Input{Name: file, Data: b.Bytes()})
			if err != nil {
				t.Fatal(file, err, b.String())
			}
			same(t, file, c, got[0])
			if len(got[0].Warnings) > 0 {
				t.Fatal(file, got[0].Warnings)
			}
		}
	})
}

func same(t interface{ Fatalf(string, ...any) }, file string, want, got *waveform.Capture) {
	if len(got.Traces) != len(want.Traces) {
		t.Fatalf("%s: %d traces, want %d", file, len(got.Traces), len(want.Traces))
	}
	for k, w := range want.Traces {
		g := got.Traces[k]
		name := strings.ReplaceAll(w.Name, `"`, "'")
		if file != "a.csv" {
			name = w.Name
		}
		if g.Name != name || g.Unit != w.Unit || g.T0 != w.T0 || g.Dt != w.Dt || len(g.Y) != len(w.Y) {
			t.Fatalf("%s: %q [%s] %d from %v every %v; want %q [%s] %d from %v every %v", file, g.Name, g.Unit, len(g.Y), g.T0, g.Dt, name, w.Unit, len(w.Y), w.T0, w.Dt)
		}
		for i := range w.Y {
			if g.Y[i] != w.Y[i] && !(math.IsNaN(g.Y[i]) && math.IsNaN(w.Y[i])) {
				t.Fatalf("%s: sample %d of %s is %v, want %v", file, i, w.Name, g.Y[i], w.Y[i])
			}
		}
	}
}

// NumPy itself reads the archive that is written.
func TestNpzByNumPy(t *testing.T) {
	python := "/usr/bin/python3"
	if exec.Command(python, "-c", "import numpy").Run() != nil {
		t.Skip("no NumPy here")
	}
	name := filepath.Join(t.TempDir(), "a.npz")
	f, err := os.Create(name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	c := &waveform.Capture{Traces: []*waveform.Trace{{Name: "Vds", Unit: "V", T0: -1e-6, Dt: 8e-10, Y: []float64{0.1, 2, math.Inf(1)}}}}
	if err := WriteNpz(f, c); err != nil {
		t.Fatal(err)
	}
	out, err := exec.Command(python, "-c", "import numpy,sys; z=numpy.load(sys.argv[1]); print(z['t0'][()], z['dt'][()], z['Vds [V]'].tolist())", name).CombinedOutput()
	if want := "-1e-06 8e-10 [0.1, 2.0, inf]\n"; string(out) != want || err != nil {
		t.Errorf("%s %v; want %s", out, err, want)
	}
}

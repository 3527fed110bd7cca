package format

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"slewbook/waveform"
)

// column writes a file with those stamps and reads its axis back.
func stampsFile(format string, t []float64, header string) string {
	var b strings.Builder
	b.WriteString(header + "Time (s),a (V)\n")
	for _, v := range t {
		fmt.Fprintf(&b, format+",1\n", v)
	}
	return b.String()
}

func grid(n int, t0, dt float64) []float64 {
	t := make([]float64, n)
	for k := range t {
		t[k] = t0 + float64(k)*dt
	}
	return t
}

func TestAxis(t *testing.T) {
	jittered := grid(1000, 0, 1e-9)
	for k := range jittered {
		jittered[k] += 0.2e-9 * math.Sin(float64(7*k))
	}
	jittered[0], jittered[999] = 0, 999e-9
	repeated := grid(1000, 0, 1e-9)
	repeated[500] = repeated[499]
	for _, c := range []struct {
		name, content string
		n             int
		dt, tol       float64 // tol relative
		warnings      []string
	}{
		{"twelve digits across zero", stampsFile("%.12g", grid(12747, -7.92402705985e-06, 1e-9), ""), 12747, 1e-9, 1e-9, nil},
		{"five digits, resolution below the step", stampsFile("%.4e", grid(2000, 0, 1.6e-9), ""), 2000, 1.6e-9, 1e-4, nil},
		{"resolution a third of the step", stampsFile("%.9f", grid(1000, 0, 3.3e-9), ""), 1000, 3.3e-9, 1e-3, nil},
		{"fixed decimals", stampsFile("%.10f", grid(900, -1.4e-6, 1.6e-9), ""), 900, 1.6e-9, 1e-9, nil},
		{"single precision", stampsFile("%.9e", single(grid(5000, -1e-6, 8e-10)), ""), 5000, 8e-10, 1e-6, nil},
		{"repeats, interval in the header", stampsFile("%.5e", grid(2000, -1e-3, 8e-10), "Sample Interval,8e-10\n\n"), 2000, 8e-10, 0, []string{"time-rounded"}},
		{"interval in the header", stampsFile("%.9e", grid(500, 0, 2e-9), "Sample Interval,2 ns\n\n"), 500, 2e-9, 0, nil},
		{"rate in the header", stampsFile("%.9e", grid(500, 0, 2e-9), "# Sample rate: 500 MS/s\n"), 500, 2e-9, 1e-15, nil},
		{"interval contradicts a little", stampsFile("%.9e", grid(500, 0, 2e-9), "Sample Interval,2.01e-9\n\n"), 500, 2.01e-9, 0, []string{"interval-conflict"}},
		{"jitter", stampsFile("%.5e", jittered, ""), 1000, 1e-9, 1e-9, []string{"uneven-steps"}},
		{"one repeated stamp", stampsFile("%.5e", repeated, ""), 1000, 1e-9, 1e-9, []string{"time-repeated"}},
		{"gap", stampsFile("%.5e", append(grid(500, 0, 1e-9), grid(300, 600e-9, 1e-9)...), ""), 900, 1e-9, 1e-9, []string{"gap"}},
		{"gap, interval in the header", stampsFile("%.5e", append(grid(500, 0, 1e-9), grid(300, 600e-9, 1e-9)...), "dt,1e-9\n\n"), 900, 1e-9, 0, []string{"gap"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			got, err := readOne(write(t, "a.csv", c.content))
			if err != nil {
				t.Fatal(err)
			}
			tr := got.Traces[0]
			if len(tr.Y) != c.n || math.Abs(tr.Dt/c.dt-1) > c.tol {
				t.Errorf("%d samples every %v; want %d every %v", len(tr.Y), tr.Dt, c.n, c.dt)
			}
			if d := cmp.Diff(c.warnings, codes(got)); d != "" {
				t.Error(d, got.Warnings)
			}
		})
	}
}

func single(t []float64) []float64 {
	for k := range t {
		t[k] = float64(float32(t[k]))
	}
	return t
}

// The samples of a gap are NaN, so that no quantity can span it, and the
// warning names its place.
func TestGapPlace(t *testing.T) {
	c, err := readOne(write(t, "a.csv", stampsFile("%.5e", append(grid(500, 0, 1e-9), grid(300, 600e-9, 1e-9)...), "")))
	if err != nil {
		t.Fatal(err)
	}
	for k, y := range c.Traces[0].Y {
		if inGap := k >= 500 && k < 600; math.IsNaN(y) != inGap {
			t.Fatalf("sample %d is %v", k, y)
		}
	}
	w := c.Warnings[0]
	if w.Text != "100 samples are missing between 499.0 ns and 600.0 ns" || math.Abs(w.Over.From-499e-9) > 1e-15 || math.Abs(w.Over.To-600e-9) > 1e-15 {
		t.Errorf("%+v", w)
	}
}

func TestAxisErrors(t *testing.T) {
	for _, c := range []struct{ name, content, want string }{
		{"repeats in runs", stampsFile("%.5e", grid(20000, -1e-3, 8e-10), ""),
			"FILE: 4000 time stamps that repeat the one before, and no sample interval in the header; expected stamps that tell the samples apart; export with more digits or with the sample interval"},
		{"coarse", stampsFile("%.5e", grid(100, -7.0078e-3, 8e-10), ""),
			"FILE: time stamps with a resolution of 10.00 ns over a record of 80.00 ns, and no sample interval in the header; expected stamps that tell the samples apart; export with more digits or with the sample interval"},
		{"conflict", stampsFile("%.9e", grid(500, 0, 2e-9), "Sample Interval,1e-9\n\n"),
			"FILE: a sample interval of 1.000 ns in the header and of 2.000 ns between the time stamps; expected the same interval in both; correct the one that is wrong"},
		{"standing", stampsFile("%.1e", grid(10, 5, 1e-9), ""), "FILE: the same time stamp in every row; expected time stamps that grow"},
	} {
		t.Run(c.name, func(t *testing.T) {
			p := write(t, "a.csv", c.content)
			_, err := readOne(p)
			if err == nil {
				t.Fatal("read without an error")
			}
			if d := cmp.Diff(c.want, strings.ReplaceAll(err.Error(), p, "FILE")); d != "" {
				t.Error(d)
			}
		})
	}
}

// Steps that grow are resampled once, and said to be; a straight line stays one,
// and what the file holds is told beside.
func TestUnevenSteps(t *testing.T) {
	var b strings.Builder
	b.WriteString("Time (s),a (V)\n")
	last := 0.0
	for k := range 300 {
		last = 1e-9 * math.Pow(1.02, float64(k))
		fmt.Fprintf(&b, "%.12e,%.12e\n", last, 3e9*last)
	}
	c, err := readOne(write(t, "a.csv", b.String()))
	if err != nil {
		t.Fatal(err)
	}
	tr := c.Traces[0]
	for k, y := range tr.Y {
		if math.Abs(y-3e9*tr.Time(k)) > 1e-6 {
			t.Fatalf("sample %d at %g s is %g", k, tr.Time(k), y)
		}
	}
	if len(c.Warnings) != 2 || c.Warnings[0].Code != waveform.UnevenSteps || c.Warnings[1].Code != waveform.Resampled {
		t.Errorf("%v", c.Warnings)
	}
	if r := tr.Recorded; r.Points != 300 || math.Abs(r.Max-3e9*last) > 1e-6 {
		t.Errorf("%+v", r)
	}
}

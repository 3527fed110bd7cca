package filters_test

import (
	"crypto/sha256"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"testing"

	"slewbook/filters"
)

// scipyDir holds our script and what SciPy made of its signals.
const scipyDir = "../testdata/scipy"

// reference is the output of filters.py.
type reference struct {
	Script  string `json:"script_sha256"`
	SciPy   string
	NumPy   string
	Dt      float64
	Signals map[string][]float64
	Golay   []struct {
		expected
		N, Order, Derivative int
	} `json:"savitzky_golay"`
	Gaussian []struct {
		expected
		Set float64 // bandwidth asked for [Hz]
	}
	Butterworth []struct {
		expected
		Order    int
		Corner   float64
		Reach    int
		AtCorner float64 `json:"at_corner"`
	}
	Mean, Median []struct {
		expected
		N int
	}
}

// expected is what SciPy says of one filter. A null bandwidth is none.
type expected struct {
	Bandwidth *float64
	Rises     []struct{ Edge, Out float64 }
	Out       map[string][]float64
}

// readReference reads the stored output of filters.py.
func readReference(t *testing.T) reference {
	t.Helper()
	b, err := os.ReadFile(scipyDir + "/filters.json")
	if err != nil {
		t.Fatal(err)
	}
	var r reference
	if err := json.Unmarshal(b, &r); err != nil {
		t.Fatal(err)
	}
	script, err := os.ReadFile(scipyDir + "/filters.py")
	if err != nil {
		t.Fatal(err)
	}
	if sum := fmt.Sprintf("%x", sha256.Sum256(script)); sum != r.Script {
		t.Fatalf("filters.json was made by another filters.py (%s, this is %s): make it anew", r.Script, sum)
	}
	return r
}

// Against scipy.signal.savgol_filter, mode "interp", and savgol_coeffs.
func TestSavitzkyGolaySciPy(t *testing.T) {
	r := readReference(t)
	for _, c := range r.Golay {
		f, err := filters.SavitzkyGolay(c.N, c.Order, c.Derivative, r.Dt)
		check(t, r, f, err, c.expected)
	}
}

// Against scipy.ndimage.gaussian_filter1d, with the standard deviation found by
// scipy.optimize.brentq such that scipy.signal.freqz has -3 dB there.
func TestGaussianSciPy(t *testing.T) {
	r := readReference(t)
	for _, c := range r.Gaussian {
		f, err := filters.Gaussian(c.Set, r.Dt)
		check(t, r, f, err, c.expected)
	}
}

// Against scipy.signal.butter and sosfiltfilt.
func TestButterworthSciPy(t *testing.T) {
	r := readReference(t)
	for _, c := range r.Butterworth {
		f, err := filters.Butterworth(c.Order, c.Corner, r.Dt)
		check(t, r, f, err, c.expected)
		if f.Reach != c.Reach {
			t.Errorf("%s: reach %d samples, SciPy's poles give %d", f.Name, f.Reach, c.Reach)
		}
		near(t, f.Name+": SciPy's gain at the corner is -6 dB", c.AtCorner, 0.5, 1e-9)
	}
}

// Against scipy.ndimage.uniform_filter1d.
func TestMeanSciPy(t *testing.T) {
	r := readReference(t)
	for _, c := range r.Mean {
		f, err := filters.Mean(c.N, r.Dt)
		check(t, r, f, err, c.expected)
	}
}

// Against scipy.ndimage.median_filter.
func TestMedianSciPy(t *testing.T) {
	r := readReference(t)
	for _, c := range r.Median {
		f, err := filters.Median(c.N, r.Dt)
		check(t, r, f, err, c.expected)
	}
}

// check compares outputs to 1e-9 of the largest one: rounding, of
// which SciPy's difference equations at low corners and its least squares have
// the most. Bandwidths and durations are equal but for the same.
func check(t *testing.T, r reference, f filters.Filter, err error, want expected) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
	for name, y := range r.Signals {
		out, err := f.Apply(y)
		if err != nil {
			t.Fatal(err)
		}
		sameSamples(t, f.Name+" of "+name, out, want.Out[name])
	}
	bandwidth := math.NaN()
	if want.Bandwidth != nil {
		bandwidth = *want.Bandwidth
	}
	near(t, f.Name+": bandwidth", f.Bandwidth, bandwidth, 1e-8*bandwidth)
	for _, e := range want.Rises {
		near(t, fmt.Sprintf("%s: an edge of %g s", f.Name, e.Edge), f.RiseTime(e.Edge), e.Out, 1e-8*e.Out)
	}
}

func sameSamples(t *testing.T, what string, got, want []float64) {
	t.Helper()
	if len(got) != len(want) {
		t.Fatalf("%s: %d samples, want %d", what, len(got), len(want))
	}
	largest := 0.0
	for _, v := range want {
		largest = max(largest, math.Abs(v))
	}
	for k := range want {
		if !(math.Abs(got[k]-want[k]) <= 1e-9*largest) {
			t.Errorf("%s: sample %d is %.15g, want %.15g", what, k, got[k], want[k])
			return
		}
	}
}

// near fails unless got is want within tol; NaN is near NaN only.
func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if math.IsNaN(want) && math.IsNaN(got) {
		return
	}
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s: %.12g, want %.12g within %.2g", what, got, want, tol)
	}
}

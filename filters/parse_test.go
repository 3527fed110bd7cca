package filters_test

import (
	"math"
	"strings"
	"testing"

	"slewbook/filters"
)

// A filter's name gives the same filter again.
func TestNames(t *testing.T) {
	for spec, want := range map[string]string{
		"mean 9": "mean 9", " median  5 ": "median 5", "sg 11 3": "sg 11 3",
		"gauss 200MHz": "gauss 200 MHz", "gauss 0.2 GHz": "gauss 200 MHz", "gauss 2e5 kHz": "gauss 200 MHz",
		"butter 4 100 MHz": "butter 4 100 MHz", "butter 4 100000000 Hz": "butter 4 100 MHz",
	} {
		f := design(t, spec)
		if f.Name != want {
			t.Errorf("%q is named %q, want %q", spec, f.Name, want)
		}
		again := design(t, f.Name)
		near(t, spec, again.Bandwidth, f.Bandwidth, 0)
	}
	f := design(t, "butter 4 bw 100 MHz")
	near(t, f.Name, design(t, f.Name).Bandwidth, f.Bandwidth, 1e-3)
}

// What cannot be is told with what was found and what was expected.
func TestErrors(t *testing.T) {
	for spec, want := range map[string]string{
		"":                    `filter "": no words: expected mean, median, sg, gauss or butter`,
		"wiener 3":            `filter "wiener 3": "wiener": expected mean, median, sg, gauss or butter`,
		"mean":                `filter "mean": 0 numbers: expected 1, as in "mean N"`,
		"mean 3 4":            `filter "mean 3 4": 2 numbers: expected 1, as in "mean N"`,
		"mean x":              `filter "mean x": "x": expected a whole number, as in "mean N"`,
		"mean 4":              `filter "mean 4": filters: moving average over 4 samples: expected an odd number from 1 to 2097153, so that one is in the middle`,
		"median 0":            `median over 0 samples: expected an odd number`,
		"median -3":           `median over -3 samples: expected an odd number`,
		"median 999999999999": `expected an odd number from 1 to`,
		"sg 10 3":             `Savitzky-Golay over 10 samples: expected an odd number`,
		"sg 5 5":              `Savitzky-Golay of order 5 over 5 samples: expected an order from 0 to 4`,
		"sg 51 11":            `Savitzky-Golay of order 11 over 51 samples: expected an order from 0 to 10`,
		"sg 51 -1":            `expected an order from 0 to 10`,
		"sg 51":               `1 numbers: expected 2, as in "sg N ORDER"`,
		"gauss":               `frequency "": expected a number and Hz, kHz, MHz or GHz, as in "200 MHz"`,
		"gauss 200":           `frequency "200": expected a number and Hz`,
		"gauss 200 mHz":       `frequency "200 mHz": expected a number and Hz`,
		"gauss 5 GHz":         `bandwidth of 5 GHz: expected more than 0 and less than 5 GHz, half the sampling rate of one sample in 1e-10 s`,
		"gauss 0 Hz":          `bandwidth of 0 Hz: expected more than 0`,
		"gauss -1 MHz":        `bandwidth of -1 MHz: expected more than 0`,
		"gauss NaN MHz":       `expected more than 0`,
		"gauss 1 Hz":          `bandwidth of 1 Hz reaches over 6.63e+09 samples to either side: expected at most 1048576; take a higher frequency`,
		"butter":              `0 numbers: expected 1, as in "butter ORDER [bw] FREQUENCY"`,
		"butter 4":            `frequency "": expected`,
		"butter 4 6 GHz":      `corner of 6 GHz: expected more than 0 and less than 5 GHz`,
		"butter 4 bw 6 GHz":   `bandwidth of 6 GHz: expected more than 0 and less than 5 GHz`,
		"butter 0 6 MHz":      `Butterworth of order 0: expected 1 to 20`,
		"butter 0 bw 6 MHz":   `Butterworth of order 0: expected 1 to 20`,
		"butter 21 bw 6 MHz":  `Butterworth of order 21: expected 1 to 20`,
		"butter 4 1e-300 Hz":  `take a higher frequency`,
	} {
		_, err := filters.Parse(spec, dt)
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v, want %s", spec, err, want)
		}
	}
	for _, bad := range []float64{0, -1, math.NaN(), math.Inf(1)} {
		for _, spec := range every {
			if _, err := filters.Parse(spec, bad); err == nil || !strings.Contains(err.Error(), "sampling interval") {
				t.Errorf("%q with an interval of %g s: %v", spec, bad, err)
			}
		}
	}
	if _, err := filters.SavitzkyGolay(11, 3, 4, dt); err == nil || err.Error() != "filters: derivative 4 of a Savitzky-Golay filter of order 3: expected 0 to 3" {
		t.Error(err)
	}
}

// The shortest record that a filter takes, and one sample less.
func TestShortRecords(t *testing.T) {
	for _, spec := range every {
		f := design(t, spec)
		need := f.Reach + 1
		if strings.HasPrefix(spec, "sg") {
			need = 2*f.Reach + 1
		}
		if out := apply(t, f, make([]float64, need)); len(out) != need {
			t.Errorf("%s: %d samples of %d", spec, len(out), need)
		}
		if _, err := f.Apply(make([]float64, need-1)); err == nil {
			t.Errorf("%s takes %d samples", spec, need-1)
		}
	}
	_, err := design(t, "mean 9").Apply(make([]float64, 3))
	if want := "filters: mean 9 on a record of 3 samples: expected at least 5, which the filter spans at an end; take a shorter filter"; err == nil || err.Error() != want {
		t.Errorf("%v, want %s", err, want)
	}
}

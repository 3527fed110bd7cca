package filters

import (
	"fmt"
	"strconv"
	"strings"
)

// Parse returns the filter that the words of spec name, for samples of interval
// dt [s]:
//
//	mean 9               moving average over 9 samples
//	median 5             running median over 5 samples
//	sg 11 3              Savitzky-Golay over 11 samples, order 3
//	gauss 200 MHz        Gaussian, -3 dB at 200 MHz
//	butter 4 100 MHz     Butterworth of order 4 forward and backward, each with
//	                     its corner at 100 MHz: -6 dB there together
//	butter 4 bw 100 MHz  the same with -3 dB at 100 MHz together
//
// Frequencies are in Hz, kHz, MHz or GHz.
func Parse(spec string, dt float64) (Filter, error) {
	words := strings.Fields(spec)
	f, err := parse(words, dt)
	if err != nil {
		return Filter{}, fmt.Errorf("filter %q: %w", spec, err)
	}
	return f, nil
}

func parse(words []string, dt float64) (Filter, error) {
	if len(words) == 0 {
		return Filter{}, fmt.Errorf("no words: expected mean, median, sg, gauss or butter")
	}
	args := words[1:]
	switch words[0] {
	case "mean":
		n, err := whole(args, "mean N", 1)
		if err != nil {
			return Filter{}, err
		}
		return Mean(n[0], dt)
	case "median":
		n, err := whole(args, "median N", 1)
		if err != nil {
			return Filter{}, err
		}
		return Median(n[0], dt)
	case "sg":
		n, err := whole(args, "sg N ORDER", 2)
		if err != nil {
			return Filter{}, err
		}
		return SavitzkyGolay(n[0], n[1], 0, dt)
	case "gauss":
		f, err := frequency(strings.Join(args, " "))
		if err != nil {
			return Filter{}, err
		}
		return Gaussian(f, dt)
	case "butter":
		return parseButterworth(args, dt)
	}
	return Filter{}, fmt.Errorf("%q: expected mean, median, sg, gauss or butter", words[0])
}

func parseButterworth(args []string, dt float64) (Filter, error) {
	n, err := whole(args[:min(1, len(args))], "butter ORDER [bw] FREQUENCY", 1)
	if err != nil {
		return Filter{}, err
	}
	args = args[1:]
	together := len(args) > 0 && args[0] == "bw"
	if together {
		args = args[1:]
	}
	f, err := frequency(strings.Join(args, " "))
	if err != nil {
		return Filter{}, err
	}
	if !together {
		return Butterworth(n[0], f, dt)
	}
	if err := checkFrequency("bandwidth", f, dt); err != nil {
		return Filter{}, err
	}
	return Butterworth(n[0], ButterworthCorner(n[0], f, dt), dt)
}

// whole reads exactly count whole numbers.
func whole(args []string, form string, count int) ([]int, error) {
	if len(args) != count {
		return nil, fmt.Errorf("%d numbers: expected %d, as in %q", len(args), count, form)
	}
	out := make([]int, count)
	for k, a := range args {
		n, err := strconv.Atoi(a)
		if err != nil {
			return nil, fmt.Errorf("%q: expected a whole number, as in %q", a, form)
		}
		out[k] = n
	}
	return out, nil
}

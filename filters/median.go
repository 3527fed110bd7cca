package filters

import (
	"fmt"
	"math"
	"slices"
)

// Median returns the running median over n samples of interval dt [s],
//
//	out[k] = the middle one of y[k-(n-1)/2] ... y[k+(n-1)/2] in order of size
//
// n odd. It takes out spikes of up to (n-1)/2 samples whole and leaves every
// monotone stretch as it is, edges of any steepness included; tops of fewer
// samples than that are cut off. It is not linear: it has no bandwidth, and an
// edge with noise or ringing is not what is left of both apart. White Gaussian
// noise is left with √(π/(2n)) of its standard deviation for large n. A spike
// in the very first or last sample stays, since the record turns about it.
// Reference: J. W. Tukey, "Exploratory Data Analysis", 1977 (from memory).
func Median(n int, dt float64) (Filter, error) {
	if err := checkInterval(dt); err != nil {
		return Filter{}, err
	}
	if err := checkWindow("median", n); err != nil {
		return Filter{}, err
	}
	smooth := func(y []float64) []float64 { return runningMedian(extend(y, n/2), n) }
	return newFilter(fmt.Sprintf("median %d", n), math.NaN(), dt, n/2, oddEnds, smooth), nil
}

// runningMedian returns the medians of all n neighbours in x, from a window
// that is kept in order.
func runningMedian(x []float64, n int) []float64 {
	window := slices.Clone(x[:n])
	slices.Sort(window)
	out := make([]float64, len(x)-n+1)
	out[0] = window[n/2]
	for k := 1; k < len(out); k++ {
		exchange(window, x[k-1], x[k-1+n])
		out[k] = window[n/2]
	}
	return out
}

// exchange takes old out of a sorted window and puts in new where it belongs.
func exchange(window []float64, old, new float64) {
	k, _ := slices.BinarySearch(window, old)
	for ; k > 0 && window[k-1] > new; k-- {
		window[k] = window[k-1]
	}
	for ; k < len(window)-1 && window[k+1] < new; k++ {
		window[k] = window[k+1]
	}
	window[k] = new
}

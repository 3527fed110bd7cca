package filters

import "math"

// gaussianReach is where the bell is cut off [standard deviations]; 6e-7 of it
// lies outside.
const gaussianReach = 5

// Gaussian returns the Gaussian low-pass of that -3 dB bandwidth [Hz] for
// samples of interval dt [s],
//
//	out[k] = Σ g[j]·y[k+j],  g[j] ∝ exp(-j²/(2s²)), cut off at ±5s
//
// with s = √(ln 2)/(2π·bandwidth·dt) = 0.1325/(bandwidth·dt) samples. Above a
// fifth of the sampling rate a sampled bell is not the bell any more, and s is
// chosen such that the gain at the bandwidth is still 1/√2. It neither
// overshoots nor rings; a step takes 0.3396/bandwidth from 10 to 90 %, and
// durations add as the root of the sum of squares. White noise is left with
// 1/√(2√π·s) of its standard deviation. Below the Nyquist frequency only.
func Gaussian(bandwidth, dt float64) (Filter, error) {
	if err := checkFrequency("bandwidth", bandwidth, dt); err != nil {
		return Filter{}, err
	}
	guess := math.Sqrt(math.Ln2) / (2 * math.Pi * bandwidth * dt)
	if _, err := checkReach("bandwidth of "+hertz(bandwidth), gaussianReach*guess); err != nil {
		return Filter{}, err
	}
	s := root(func(s float64) float64 {
		return response(bell(s), bandwidth*dt) - halfPower
	}, guess/2, 2*guess)
	w := bell(s)
	return newFilter("gauss "+hertz(bandwidth), bandwidth, dt, len(w)/2, oddEnds, weigh(w)), nil
}

// bell returns the samples of a Gaussian of standard deviation s [samples],
// with sum 1.
func bell(s float64) []float64 {
	reach := int(gaussianReach*s + 0.5)
	w := make([]float64, 2*reach+1)
	sum := 0.0
	for j := range w {
		x := float64(j-reach) / s
		w[j] = math.Exp(-x * x / 2)
		sum += w[j]
	}
	for j := range w {
		w[j] /= sum
	}
	return w
}

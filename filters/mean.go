package filters

import (
	"fmt"
	"math"
)

// Mean returns the moving average over n samples of interval dt [s],
//
//	out[k] = 1/n · Σ y[k+j],  j = -(n-1)/2 ... (n-1)/2
//
// n odd. Its gain is sin(πf·n·dt)/(n·sin(πf·dt)), with -3 dB at about
// 0.443/(n·dt) and zeros at all multiples of 1/(n·dt), between which it passes
// up to 22 % (with the sign changed). A step takes 0.8·n·dt from 10 to 90 %;
// white noise is left with 1/√n of its standard deviation. Reference: any book
// on signals, such as Oppenheim, Schafer, "Discrete-Time Signal Processing"
// (from memory).
func Mean(n int, dt float64) (Filter, error) {
	if err := checkInterval(dt); err != nil {
		return Filter{}, err
	}
	if err := checkWindow("moving average", n); err != nil {
		return Filter{}, err
	}
	w := make([]float64, n)
	for j := range w {
		w[j] = 1 / float64(n)
	}
	gain := func(f float64) float64 {
		return math.Sin(math.Pi*f*float64(n)) / (float64(n) * math.Sin(math.Pi*f))
	}
	bandwidth := firstHalfPower(gain, 0.5/float64(n)) / dt
	return newFilter(fmt.Sprintf("mean %d", n), bandwidth, dt, n/2, oddEnds, weigh(w)), nil
}

package filters

import "math"

// gaussianWidth is the 10-90 % duration of a Gaussian edge over its standard
// deviation: twice the 90 % quantile of the normal distribution.
const gaussianWidth = 2 * 1.2815515655446004

// riseTime filters a Gaussian edge of the given 10-90 % duration [s] and reads
// that duration off the result.
func riseTime(smooth func([]float64) []float64, reach int, edge, dt float64) float64 {
	if !(edge >= 0) || math.IsInf(edge, 0) {
		return math.NaN()
	}
	// The root of the sum of squares is then longer by less than 2e-5.
	if edge > 200*float64(2*reach+1)*dt {
		return edge
	}
	half := 2*reach + 2 + int(2*edge/dt)
	y := make([]float64, 2*half)
	for k := range y {
		y[k] = gaussianEdge((float64(k-half)+0.5)*dt, edge/gaussianWidth)
	}
	return tenToNinety(smooth(y)) * dt
}

// gaussianEdge is the integral of the normal distribution, a step for sigma 0.
func gaussianEdge(t, sigma float64) float64 {
	if sigma == 0 {
		t, sigma = math.Copysign(1, t), 1e-9
	}
	return 0.5 * math.Erfc(-t/(sigma*math.Sqrt2))
}

// tenToNinety returns the duration [samples] of the rise from 0 to 1 in the
// middle of y, from the crossings next to it.
func tenToNinety(y []float64) float64 {
	low, high := len(y)/2-1, len(y)/2
	for low > 0 && y[low] > 0.1 {
		low--
	}
	for high < len(y)-1 && y[high] < 0.9 {
		high++
	}
	t10 := float64(low) + (0.1-y[low])/(y[low+1]-y[low])
	t90 := float64(high) - (y[high]-0.9)/(y[high]-y[high-1])
	return t90 - t10
}

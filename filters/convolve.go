package filters

import "gonum.org/v1/gonum/floats"

// correlate returns out[k] = Σ w[j]·x[k+j] for every k at which w lies within x.
func correlate(x, w []float64) []float64 {
	out := make([]float64, len(x)-len(w)+1)
	for k := range out {
		out[k] = floats.Dot(w, x[k:k+len(w)])
	}
	return out
}

// weigh returns the filter of symmetric weights with odd ends.
func weigh(w []float64) func([]float64) []float64 {
	return func(y []float64) []float64 { return correlate(extend(y, len(w)/2), w) }
}

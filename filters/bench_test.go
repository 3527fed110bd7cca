package filters_test

import (
	"math/rand"
	"testing"

	"slewbook/filters"
)

// One million samples of 0.1 ns.
func BenchmarkApply(b *testing.B) {
	y := make([]float64, 1e6)
	for k := range y {
		y[k] = rand.NormFloat64()
	}
	for _, spec := range []string{"mean 9", "mean 101", "median 5", "median 101", "sg 11 3", "sg 101 3", "gauss 200 MHz", "gauss 20 MHz", "butter 4 100 MHz"} {
		b.Run(spec, func(b *testing.B) {
			f, err := filters.Parse(spec, 1e-10)
			if err != nil {
				b.Fatal(err)
			}
			for b.Loop() {
				if _, err := f.Apply(y); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

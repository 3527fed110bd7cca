package waveform

import (
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// FlatTops looks at every third sample only; no run is lost by that, wherever
// it begins.
func TestFlatTopsAnywhere(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		y := make([]float64, rapid.IntRange(60, 120).Draw(t, "n"))
		for k := range y {
			y[k] = float64(k*37%61 - 30)
		}
		var want []Run
		for k := rapid.IntRange(20, 25).Draw(t, "first"); k+9 < len(y)-20; k += rapid.IntRange(30, 40).Draw(t, "distance") {
			r := Run{k, k + rapid.IntRange(2, 8).Draw(t, "length"), rapid.SampledFrom([]int{-1, +1}).Draw(t, "sign")}
			for i := r.First; i <= r.Last; i++ {
				y[i] = float64(100 * r.Sign)
			}
			want = append(want, r)
		}
		if got := FlatTops(y); !slices.Equal(got, want) {
			t.Fatalf("got %v, want %v", got, want)
		}
	})
}

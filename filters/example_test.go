package filters_test

import (
	"fmt"

	"slewbook/filters"
)

// A step of 400 V, one sample in 0.4 ns, through a Gaussian of 200 MHz.
func ExampleParse() {
	f, err := filters.Parse("gauss 200 MHz", 0.4e-9)
	if err != nil {
		fmt.Println(err)
		return
	}
	y := make([]float64, 40)
	for k := 20; k < len(y); k++ {
		y[k] = 400
	}
	smooth, err := f.Apply(y)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%.0f V\n", smooth[16:24])
	fmt.Printf("a step takes %.1f ns, an edge of 10 ns %.1f ns\n", f.RiseTime(0)*1e9, f.RiseTime(10e-9)*1e9)
	// Output:
	// [6 25 72 152 248 328 375 394] V
	// a step takes 1.7 ns, an edge of 10 ns 10.2 ns
}

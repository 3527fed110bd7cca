package main

import (
	"log"
	"os"
)

func Example() {
	if err := run(os.Stdout, ".."); err != nil {
		log.Fatal(err)
	}
	// Output:
	// capture,I_off [A],E_off [µJ],I_on [A],E_on [µJ],without a number
	// i-20A,19.7,34.8,19.6,232,
	// i-40A,39.6,56.3,39.4,433,
	// i-60A,59.4,101,59.2,666,
	// i-60A-clipped,59.5,101,59.3,,"e_on: trace ""CH2"" is over range or missing at t = 4.06109 µs, inside the window"
}

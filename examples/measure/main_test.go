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
	// i_off  39.6 A  load line continued to when v passes half the bus, from 1.039 µs to 1.904 µs
	// e_off  56.3 µJ  v10-i2, from 2.030 µs to 2.044 µs
	//        recrossed
	// i_on   39.4 A  load line continued to when i passes half of it, from 3.182 µs to 3.527 µs
	// e_on   433 µJ  i10-v2, from 3.041 µs to 3.075 µs
}

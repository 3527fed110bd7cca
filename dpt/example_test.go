package dpt_test

import (
	"fmt"
	"log"

	"slewbook/dpt"
	"slewbook/dpt/model"
)

// A capture goes in, a shot comes out: a row of the table, its quantities in
// the order of result.Columns.
func ExampleMeasure() {
	// An invented half bridge at 600 V and 50 A, with what its instrument sees.
	capture := model.Capture(model.Demo(600, 50).Waveforms(), model.DemoInstrument(), 1)

	opt := dpt.Defaults()
	if err := opt.SelectWindows("v10-i10", "i10-v10"); err != nil {
		log.Fatal(err)
	}
	shot, err := dpt.Measure(capture, opt)
	if err != nil {
		log.Fatal(err) // no honest number: the error says why
	}
	for _, event := range shot.Events {
		fmt.Printf("%s of pulse %d at %.2f µs\n", event.Edge, event.Pulse, event.T*1e6)
	}
	for _, key := range []string{"e_off", "e_on"} {
		m := shot.Quantity(key)
		fmt.Printf("%s = %.0f µJ in %s\n", m.Key, m.Value*1e6, m.Definition)
	}
	// Output:
	// turn-on of pulse 1 at 0.05 µs
	// turn-off of pulse 1 at 3.37 µs
	// turn-on of pulse 2 at 4.90 µs
	// turn-off of pulse 2 at 6.07 µs
	// e_off = 108 µJ in v10-i10
	// e_on = 893 µJ in i10-v10
}

// Look measures nothing; it says what was recognised, and why.
func ExampleLook() {
	capture := model.Capture(model.Demo(600, 50).Waveforms(), model.DemoInstrument(), 1)
	capture.Traces[1].Name = "CH2"
	for _, ch := range dpt.Look(capture, dpt.Defaults()).Channels {
		fmt.Printf("%s is %s (%.0f %% sure): %s\n", ch.Name, ch.Role, 100*ch.Sure, ch.Basis)
	}
	// Output:
	// Vds is vds (98 % sure): named "Vds"
	// CH2 is id (80 % sure): the only trace in amperes
	// Vgs is vgs (98 % sure): named "Vgs"
}

package reports_test

import (
	"errors"
	"log"
	"math"
	"os"

	"slewbook/dpt/result"
	"slewbook/reports"
	"slewbook/waveform"
)

// invented returns a shot with one number, one that is missing, and a shot that
// was refused.
func invented() []*result.Shot {
	nan := math.NaN()
	missing := waveform.Warning{Code: waveform.ClippedWindow, Text: "id is over range inside the window"}
	return []*result.Shot{
		{Capture: "shot-1", Quantities: []result.Measurement{
			{Key: "v_peak", Unit: "V", Value: 873.2, U: nan, Over: waveform.Interval{From: 2.5e-6, To: 2.5e-6}, Definition: "largest sample up to the next event"},
			{Key: "e_on", Unit: "J", Value: nan, U: nan, Over: waveform.Interval{From: nan, To: nan}, Definition: "i10-v2", Warnings: []waveform.Warning{missing}},
		}},
		{Capture: "shot-2", Err: errors.New("no trace could be given the role id")},
	}
}

// What is not measured is an empty cell, and its reason is in the row.
func ExampleWriteQuantitiesCSV() {
	if err := reports.WriteQuantitiesCSV(os.Stdout, invented()); err != nil {
		log.Fatal(err)
	}
	// Output:
	// capture,key,symbol,value,unit,u,from [s],to [s],definition,warnings,error,sha256,settings,version
	// shot-1,v_peak,V_peak,873.2,V,,2.5e-06,2.5e-06,largest sample up to the next event,,,,,
	// shot-1,e_on,E_on,,J,,,,i10-v2,clipped-window,,,,
	// shot-2,,,,,,,,,,no trace could be given the role id,,,
}

func ExampleWriteShotJSON() {
	for _, shot := range invented() {
		if err := reports.WriteShotJSON(os.Stdout, shot); err != nil {
			log.Fatal(err)
		}
	}
	// Output:
	// {"capture":"shot-1","files":[],"conditions":{},"schema":1,"version":"","sha256":[],"settings":"","events":[],"quantities":{"v_peak":{"value":873.2,"unit":"V","u":null,"from":0.0000025,"to":0.0000025,"definition":"largest sample up to the next event","warnings":[]},"e_on":{"value":null,"unit":"J","u":null,"from":null,"to":null,"definition":"i10-v2","warnings":[{"code":"clipped-window","channel":"","from":0,"to":0,"text":"id is over range inside the window"}]}},"corrections":[],"assumed":[],"warnings":[],"error":null}
	// {"capture":"shot-2","files":[],"conditions":{},"schema":1,"version":"","sha256":[],"settings":"","events":[],"quantities":{},"corrections":[],"assumed":[],"warnings":[],"error":"no trace could be given the role id"}
}

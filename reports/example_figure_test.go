package reports_test

import (
	"bytes"
	"fmt"

	"slewbook/dpt"
	"slewbook/dpt/model"
	"slewbook/reports"
)

// Measure shots of the invented campaign and draw one of them for a column of a
// journal.
func ExampleDrawShot() {
	capture := model.Capture(model.Campaign()[0].Waveforms(), model.DemoInstrument(), 1)
	shot, err := dpt.Measure(capture, dpt.Defaults())
	if err != nil {
		fmt.Println(err)
		return
	}
	style, err := reports.FindStyle("one-column")
	if err != nil {
		fmt.Println(err)
		return
	}
	figures, err := reports.DrawShot(&shot, style)
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, figure := range figures {
		var page, numbers bytes.Buffer
		if err := figure.Write(&page, "pdf"); err != nil {
			fmt.Println(err)
			return
		}
		if err := figure.WriteCSV(&numbers); err != nil {
			fmt.Println(err)
			return
		}
		fmt.Printf("%s: %s, %t\n", figure.Part, page.Bytes()[:5], bytes.HasPrefix(numbers.Bytes(), []byte("panel,item,label,t [s],y,unit\n")))
	}
	// Output:
	// record: %PDF-, true
	// turn-off: %PDF-, true
	// turn-on: %PDF-, true
}

// Draw all shots of one bus voltage over each other: what is kept of each shot
// is the neighbourhood of its edges.
func ExampleDrawOverlays() {
	var cuts []reports.Cut
	for k, s := range model.Campaign()[:4] {
		shot, err := dpt.Measure(model.Capture(s.Waveforms(), model.DemoInstrument(), uint64(k+1)), dpt.Defaults())
		if err != nil {
			fmt.Println(err)
			return
		}
		cuts = append(cuts, reports.Cuts(&shot)...)
	}
	figures, err := reports.DrawOverlays(cuts, "current", reports.Styles()[0])
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, figure := range figures {
		fmt.Println(figure.Part)
	}
	// Output:
	// turn-off-current-01
	// turn-on-current-01
}

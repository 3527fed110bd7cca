package dpt_test

import (
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"slewbook/dpt"
	"slewbook/dpt/result"
	"slewbook/waveform/wavetest"
)

// The result tells how each channel was recorded: from the capture, and from what the
// set-up states, null where neither does.
func TestRecording(t *testing.T) {
	d := wavetest.Example()
	ch := statedChannels(0.02, 0.03, 1e-6)
	v := ch[result.Vds]
	v.Bandwidth, v.Bits, v.Range, v.Traceable = 500e6, 12, 1200, dpt.Traceable{Calibrated: time.Date(2026, 3, 1, 0, 0, 0, 0, time.UTC)}
	ch[result.Vds] = v
	shot := measureWith(t, d, ch)
	got := map[result.Role]result.Recording{}
	for _, r := range shot.Channels {
		got[r.Role] = r
	}
	c := d.Capture(0.1e-9, -lead+wavetest.OffGrid(0.1e-9, 3))
	want := result.Recording{Role: result.Vds, Trace: c.Traces[0].Name, Points: len(c.Traces[0].Y), Dt: c.Traces[0].Dt, Bandwidth: 500e6, Bits: 12, Range: 1200, Calibrated: "2026-03-01"}
	if diff := cmp.Diff(want, got[result.Vds], cmpopts.EquateNaNs()); diff != "" {
		t.Errorf("vds (-want +got):\n%s", diff)
	}
	if id := got[result.Id]; id.Range == id.Range || id.Bits != 0 || id.Calibrated != "" || id.Points == 0 {
		t.Errorf("id: %+v", id)
	}
}

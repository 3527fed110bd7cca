package dpt_test

import (
	"math"
	"testing"

	"slewbook/dpt"
	"slewbook/waveform"
)

// A current that turns back for 6 ns at 10 % of the load current, missed or passed by a
// hundredth of a step, has two crossings of it that noise chooses between: that is told,
// and u holds the 6 ns. One that turns back well before 10 % has one crossing (derived).
func TestNearMiss(t *testing.T) {
	c, _ := simulatedShot(t, "clean-sic")
	plain, err := dpt.Measure(c, dpt.Defaults())
	if err != nil {
		t.Fatal(err)
	}
	load, fall := plain.Quantity("i_off").Value, plain.Quantity("t_fall_i")
	const back = 6e-9
	for _, x := range []struct {
		miss float64 // of the load current
		told bool
	}{{1e-5, true}, {-1e-5, true}, {0.1, false}} {
		shot, err := dpt.Measure(turningBack(c, fall.Over, plain.Traces["id"], load*(0.1+x.miss), back), dpt.Defaults())
		if err != nil {
			t.Fatal(err)
		}
		m := shot.Quantity("t_fall_i")
		if told := hasCode(m.Warnings, waveform.Recrossed); told != x.told || told != (m.U > back/3) {
			t.Errorf("10 %% missed by %g of the load current: t_fall_i is %.3g ± %.2g s, without %.3g, with %v", x.miss, m.Value, m.U, fall.Value, m.Warnings)
		}
	}
}

// turningBack returns the capture with its current, once it has fallen to level in over,
// going up by 5 A and down again for a while, and what follows as much later.
func turningBack(c *waveform.Capture, over waveform.Interval, id *waveform.Trace, level, while float64) *waveform.Capture {
	at := int(id.Pos(waveform.FirstCrossing(id, level, waveform.Falling, waveform.Interval{From: over.From, To: over.To + 20e-9})))
	out := shifted(c, "Id", 0, 0)
	for _, tr := range out.Traces {
		if tr.Name != "Id" {
			continue
		}
		copy(tr.Y, id.Y)
		tr.Y[at] = level
		steps := int(while / id.Dt)
		for j := 1; j < 300; j++ {
			if tr.Y[at+j] = id.Y[at+j-steps*min(j/steps, 1)]; j < steps {
				tr.Y[at+j] = level + 5*math.Sin(math.Pi*float64(j)/float64(steps))
			}
		}
	}
	return out
}

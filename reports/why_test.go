package reports

import (
	"math"
	"slices"
	"strings"
	"testing"

	"slewbook/dpt/result"
	"slewbook/waveform"
)

// A budget of 3 and 4 makes 5; without its first line it is 3, with half of it √13.
// The trials are told with both intervals, and the verdict goes by them.
func TestWhyTrials(t *testing.T) {
	m := result.Measurement{Key: "v_peak", Unit: "V", Value: 100, U: 5, Budget: []result.Contribution{
		{Source: "zero of vds", U: 4, Unit: "V", Effect: 4, Basis: "assumed"}, {Source: "noise and bits", U: 3, Unit: "V", Effect: 3}}}
	for _, c := range []struct {
		trials result.MonteCarlo
		want   string
	}{
		{result.MonteCarlo{Trials: 20000, Settled: true, Agrees: true, Mean: 100, U: 5, Low: 90.1, High: 109.9, ShortLow: 90, ShortHigh: 110, Tolerance: 0.5}, "the ends differ by 100 mV and 100 mV, tolerance 500 mV: the budget is validated"},
		{result.MonteCarlo{Trials: 20000, Settled: true, Mean: 101, U: 6, Low: 88, High: 113, ShortLow: 88, ShortHigh: 113, Tolerance: 0.5, Lost: 7}, "take the interval of the trials\nin 7 trials"},
		{result.MonteCarlo{Trials: 10000, Mean: 101, U: 6, Low: 88, High: 113, ShortLow: 88, ShortHigh: 113, Tolerance: 0.5}, "have not settled"},
	} {
		m.MonteCarlo = &c.trials
		var b strings.Builder
		if err := WriteWhy(&b, &result.Shot{Quantities: []result.Measurement{m}}, "v_peak", TextOptions{Width: 200}); err != nil {
			t.Fatal(err)
		}
		for _, want := range []string{c.want, "what would shrink it most: state channel.vds.offset_u or accuracy; with half of that line it is 3.61 V, without it 3.00 V", "value ± 2u"} {
			if !strings.Contains(b.String(), want) {
				t.Errorf("expected %q in\n%s", want, b.String())
			}
		}
	}
	for source, want := range map[string]string{"gain of id": "channel.id", "delay of id": "calibration capture", "sampling": "sample faster", "f_ring_off": "know f_ring_off better"} {
		if got := remedy(result.Contribution{Source: source, Effect: math.Pi, Basis: "assumed"}); !strings.Contains(got, want) {
			t.Errorf("%s: %q", source, got)
		}
	}
}

// A quantity that was read from a channel beside the main ones shows that one, and no
// other; the kin of a branch's quantity are branches and no definitions.
func TestWhyShowsWhatWasRead(t *testing.T) {
	s := &result.Shot{Traces: map[result.Role]*waveform.Trace{}}
	for _, role := range []result.Role{result.Vds, result.Id, result.VOther, result.VgsOther, result.Branch(1), result.Branch(2)} {
		s.Traces[role] = &waveform.Trace{Name: string(role)}
	}
	for _, tt := range []struct {
		sources []string
		marked  result.Role
		want    []result.Role
	}{
		{[]string{"gain of vds"}, result.Vds, []result.Role{result.Vds, result.Id}},
		{[]string{"gain of v_other", "bandwidth"}, result.VOther, []result.Role{result.Vds, result.Id, result.VOther}},
		{[]string{"delay of id_1", "delay of id_2"}, "", []result.Role{result.Vds, result.Id, result.Branch(1), result.Branch(2)}},
		{nil, result.VgsOther, []result.Role{result.Vds, result.Id, result.VgsOther}},
	} {
		m := &result.Measurement{Drawing: &result.Drawing{Marks: []result.Mark{{Role: tt.marked}}}}
		for _, source := range tt.sources {
			m.Budget = append(m.Budget, result.Contribution{Source: source})
		}
		w := why{s: s, m: m}
		if got := w.roles(); !slices.Equal(got, tt.want) {
			t.Errorf("%v: %v, expected %v", tt.sources, got, tt.want)
		}
	}
	if !ofBranch("e_branch_on.id_2") || ofBranch("t_fall_v.after-i90") || ofBranch("e_on") {
		t.Error("branches and definitions are mixed up")
	}
}

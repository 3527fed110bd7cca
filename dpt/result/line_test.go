package result_test

import (
	"encoding/json"
	"errors"
	"math"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"slewbook/dpt/result"
	"slewbook/waveform"
)

// What is written is read again, in its order, null as NaN; of a budget the
// sources, effects and scopes.
func TestShotLine(t *testing.T) {
	nan := math.NaN()
	s := result.Shot{Capture: "shot-1", Files: []string{"a.csv"}, SHA256: []string{"00"}, Version: "v", Settings: "s", Bench: "b",
		Conditions: []result.Condition{{Key: "tj", Value: 298.15}, {Key: "device", Value: nan, Text: "<invented> & ours"}},
		Channels:   []result.Recording{{Role: result.Vds, Trace: "CH2", Points: 1000, Dt: 8e-10, Bandwidth: 5e8, Bits: 12, Range: 1200, Calibrated: "2026-03-01", Due: "2027-03-01"}, {Role: result.Id, Trace: "CH1", Points: 10, Dt: 1e-9, Bandwidth: nan, Range: nan}},
		Events:     []result.Event{{Edge: result.TurnOff, Pulse: 1, T: 1e-6, Basis: "v"}, {Edge: result.TurnOn, T: 2e-6}},
		Quantities: []result.Measurement{
			{Key: "e_on", Unit: "J", Value: 1. / 3, U: 0.02, Dominant: "gain of vds, 90 %", Over: waveform.Interval{From: 1e-6, To: 2e-6}, Definition: "i10-v2", PerDelay: -2, PerRing: 3,
				MonteCarlo: &result.MonteCarlo{Seed: 1, Trials: 20000, Lost: 3, Settled: true, Mean: 0.3, U: 0.02, Low: 0.2, High: 0.4, ShortLow: 0.25, ShortHigh: nan, Tolerance: 0.005, Agrees: true},
				Budget:     []result.Contribution{{Source: "gain of vds", U: 0.019, Unit: "J", Effect: -0.019, Scope: result.OfSetup}, {Source: "noise and bits", U: 0.001, Unit: "J", Effect: 0.001, Scope: result.OfReading}}},
			{Key: "delay_id", Unit: "s", Value: nan, U: nan, Over: waveform.Interval{From: nan, To: nan}, Delay: &result.Delay{Suggested: nan, Applied: 0, Basis: "ringing"},
				Warnings: []waveform.Warning{{Code: waveform.DelayUnknown, Channel: "id", Text: "no ringing"}}}},
		Corrections: []result.Correction{{Channel: result.Id, Kind: "zero", Value: 0.1, Unit: "A", EOn: nan, EOff: 2}},
		Assumed:     []string{"gain"}, Err: errors.New("it \"fails\"")}
	text, err := json.Marshal(&s)
	if err != nil {
		t.Fatal(err)
	}
	var got result.Shot
	if err := json.Unmarshal(text, &got); err != nil {
		t.Fatal(err)
	}
	byText := cmp.Comparer(func(a, b error) bool { return a.Error() == b.Error() })
	if diff := cmp.Diff(s, got, cmpopts.EquateNaNs(), cmpopts.EquateEmpty(), cmp.FilterPath(func(p cmp.Path) bool { return p.Last().Type() != nil && p.Last().String() == ".Err" }, byText)); diff != "" {
		t.Errorf("written and read again (-want +got):\n%s", diff)
	}
	old := strings.Replace(string(text), `"schema":1`, `"schema":99`, 1)
	if err := json.Unmarshal([]byte(old), &got); err == nil || !strings.Contains(err.Error(), "schema 99") {
		t.Errorf("another schema: %v", err)
	}
}

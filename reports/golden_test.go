package reports

import (
	"bytes"
	"errors"
	"flag"
	"io"
	"math"
	"os"
	"path/filepath"
	"testing"

	"github.com/google/go-cmp/cmp"

	"slewbook/dpt/result"
	"slewbook/waveform"
)

var update = flag.Bool("update", false, "write the golden files anew")

// golden compares what write produces with testdata/name, byte by byte.
func golden(t *testing.T, name string, write func(io.Writer) error) {
	t.Helper()
	var got bytes.Buffer
	if err := write(&got); err != nil {
		t.Fatal(err)
	}
	path := filepath.Join("testdata", name)
	if *update {
		if err := os.WriteFile(path, got.Bytes(), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(string(want), got.String()); diff != "" {
		t.Errorf("%s (-want +got):\n%s", path, diff)
	}
}

// tableShots returns four invented shots for the tables: one with everything,
// one with values that could not be read and warnings, one with a hostile name
// and known uncertainties, and one that failed.
func tableShots() []*result.Shot {
	nan := math.NaN()
	none := waveform.Interval{From: nan, To: nan}
	over := func(from, to float64) waveform.Interval { return waveform.Interval{From: from, To: to} }
	conditions := []result.Condition{
		{Key: "rg_on", Value: 5, Unit: "ohm", Text: "5 Ω"},
		{Key: "tj", Value: 298.15, Unit: "K", Text: "25 °C"},
		{Key: "device", Value: nan, Text: "invented <A&B>"},
	}
	recrossed := waveform.Warning{Code: waveform.Recrossed, Channel: "id", Over: over(7.01e-6, 7.04e-6), Text: "i passes 2 % again 31 ns later; with the last crossing e_off is 571 µJ"}
	good := &result.Shot{
		Capture: "800V/shot-001", Files: []string{"800V/shot-001.csv"}, SHA256: []string{"aa11"}, Conditions: conditions, Version: "v0", Settings: "5e77",
		Events: []result.Event{
			{Edge: result.TurnOff, Pulse: 1, T: 5e-6, Basis: "gate, v and i"},
			{Edge: result.TurnOn, Pulse: 2, T: 7e-6, Basis: "v and i"},
			{Edge: result.TurnOff, T: 8.5e-6, Basis: "v"},
		},
		Quantities: []result.Measurement{
			{Key: "v_bus_off", Unit: "V", Value: 801.23456789, U: nan, Over: over(5.5e-6, 6e-6), Definition: "settled"},
			{Key: "i_off", Unit: "A", Value: 50.118, U: nan, Over: none},
			{Key: "vgs_high", Unit: "V", Value: 18.02, U: nan, Over: none, Warnings: []waveform.Warning{{Code: waveform.FewBits, Channel: "vgs", Text: "the gate uses 4 of 8 bits"}}},
			{Key: "t_rise_v", Unit: "s", Value: 1.2345678901234567e-08, U: nan, Over: over(5e-6, 5.0123e-6), Definition: "10-90 %"},
			{Key: "t_fall_i", Unit: "s", Value: 9.9996e-9, U: nan, Over: none},
			{Key: "dvdt_off", Unit: "V/s", Value: 5.19e10, U: nan, Over: none},
			{Key: "didt_off", Unit: "A/s", Value: 4.01e9, U: nan, Over: none},
			{Key: "e_off", Unit: "J", Value: 5.6e-4, U: nan, Over: over(4.99e-6, 5.03e-6), Definition: "v10-i2", Warnings: []waveform.Warning{recrossed}},
			{Key: "e_off.g90-i2", Unit: "J", Value: 5.7e-4, U: nan, Over: over(4.95e-6, 5.03e-6), Definition: "g90-i2"},
			{Key: "v_peak", Unit: "V", Value: 1021.4, U: nan, Over: none},
			{Key: "e_on", Unit: "J", Value: 8.43e-4, U: nan, Over: over(6.98e-6, 7.02e-6), Definition: "i10-v2"},
			{Key: "i_peak", Unit: "A", Value: 87.9, U: nan, Over: none},
		},
		Corrections: []result.Correction{{Channel: result.Id, Kind: "zero", Value: -0.42, Unit: "A", Over: over(-1e-6, -2e-7), EOn: 1e-6, EOff: nan, Text: "mean of the quiet interval"}},
	}
	poor := &result.Shot{
		Capture: "800V/shot-002", Files: []string{"800V/shot-002.csv"}, SHA256: []string{"bb22"}, Conditions: conditions, Version: "v0", Settings: "5e77",
		Quantities: []result.Measurement{
			{Key: "v_bus_off", Unit: "V", Value: 799.8, U: nan, Over: none},
			{Key: "i_off", Unit: "A", Value: math.Inf(1), U: nan, Over: none},
			{Key: "e_off", Unit: "J", Value: nan, U: nan, Over: none, Definition: "v10-i2", Warnings: []waveform.Warning{{Code: waveform.OverRange, Channel: "vds", Text: "v is over range inside the window"}}},
			{Key: "e_on", Unit: "J", Value: 1.25e-5, U: nan, Over: none, Definition: "i10-v2", Warnings: []waveform.Warning{recrossed}},
		},
		Warnings: []waveform.Warning{{Code: waveform.DelayUnknown, Text: "no delay was given"}},
	}
	hostile := &result.Shot{
		Capture: "a very long and \"hostile\", name;\n=1+1\x1b[31m/été", Files: []string{"é,\".csv"}, SHA256: []string{"cc33", "dd44"}, Conditions: conditions, Version: "v0", Settings: "5e77",
		Quantities: []result.Measurement{
			{Key: "v_bus_off", Unit: "V", Value: 1200.4, U: 3.2, Over: none},
			{Key: "t_rise_v", Unit: "s", Value: -2e-12, U: 0.5e-9, Over: none},
			{Key: "e_off", Unit: "J", Value: 1.23456e-3, U: 1.1e-5, Over: none, Definition: "fixed"},
			{Key: "l_load", Unit: "H", Value: 1e-4, U: nan, Over: none},
		},
	}
	failed := failedShot()
	failed.Conditions = conditions
	failed.Err = errors.New("broken.csv:17: found \"abc\", expected a number;\nname the current's channel in the setup file")
	return []*result.Shot{good, poor, hostile, failed}
}

func tableLooks() []*result.Look {
	return []*result.Look{
		{
			Capture: "shot-012", Files: []string{"shot-012.zip"}, Grouping: "2 files with one channel each, taken as one shot: CH1.csv, CH4.csv", Layout: "header row, then columns", Points: 10000, T0: -1e-6, Dt: 8e-10, Segments: 1,
			Channels: []result.Channel{
				{Name: "CH1", Unit: "V", Role: result.Vds, Basis: "name and unit", Sure: 0.95, First: 0.1, Last: 0.2, Min: -1, Max: 812, Points: 10000, T0: -1e-6, Dt: 8e-10},
				{Name: "CH4 é", Unit: "", First: math.Inf(1), Last: math.NaN(), Min: math.NaN(), Max: math.NaN(), OverRange: 3, Points: 5000, T0: -1e-6, Dt: 1.6e-9},
			},
			Warnings: []waveform.Warning{{Code: waveform.TimeRounded, Text: "the time column is rounded; the interval was taken from the header"}},
		},
		{Capture: "broken", Files: []string{"broken.csv"}, T0: math.NaN(), Dt: math.NaN(), Err: errors.New("broken.csv: empty file; expected a header row")},
	}
}

func TestGoldenTables(t *testing.T) {
	shots, looks := tableShots(), tableLooks()
	golden(t, "shots.jsonl", func(w io.Writer) error {
		for _, s := range shots {
			if err := WriteShotJSON(w, s); err != nil {
				return err
			}
		}
		return nil
	})
	golden(t, "looks.jsonl", func(w io.Writer) error {
		for _, l := range looks {
			if err := WriteLookJSON(w, l); err != nil {
				return err
			}
		}
		return nil
	})
	golden(t, "shots.csv", func(w io.Writer) error { return WriteShotsCSV(w, shots) })
	golden(t, "quantities.csv", func(w io.Writer) error { return WriteQuantitiesCSV(w, shots) })
	golden(t, "shots.txt", func(w io.Writer) error { return WriteText(w, shots, TextOptions{}) })
	golden(t, "shots-ascii-wide.txt", func(w io.Writer) error { return WriteText(w, shots, TextOptions{Width: 140, ASCII: true}) })
	golden(t, "shots-color.txt", func(w io.Writer) error { return WriteText(w, shots, TextOptions{Width: 80, Color: true}) })
	golden(t, "looks.txt", func(w io.Writer) error { return WriteLookText(w, looks, TextOptions{}) })
}

package dpt_test

import (
	"math"
	"strings"
	"testing"

	"slewbook/dpt"
	"slewbook/dpt/result"
	"slewbook/waveform"
	"slewbook/waveform/wavetest"
)

// Gains of 2 % and 3 % make 3.61 % of an energy if they are independent and 5.00 % if
// both were calibrated against one reference (JCGM 100, 5.1.2 and 5.2.2; derived). Its
// name stands in the budget, and its error is that of every set-up that names it.
func TestGainsOfOneReference(t *testing.T) {
	d := wavetest.Example()
	d.LLoad = 1e-3
	of := func(refV, refI string) map[string]float64 {
		ch := statedChannels(0.02, 0.03, 1e-6)
		for role, ref := range map[result.Role]string{result.Vds: refV, result.Id: refI} {
			c := ch[role]
			c.Reference = ref
			ch[role] = c
		}
		shot := measureWith(t, d, ch)
		gains := map[string]float64{}
		for _, key := range []string{"e_on", "e_off", "e_tot", "t_rise_v", "i_off"} {
			q := shot.Quantity(key)
			for _, c := range q.Budget {
				if strings.HasPrefix(c.Source, "gain of") || strings.HasPrefix(c.Source, "reference ") {
					gains[key] = math.Hypot(gains[key], c.Effect/q.Value)
				}
				if named := strings.HasPrefix(c.Source, "reference "); named != (c.Scope == result.OfReference) {
					t.Errorf("%s: %q is of scope %q", key, c.Source, c.Scope)
				}
			}
		}
		return gains
	}
	for _, c := range []struct {
		refV, refI string
		energy     float64
	}{{"", "", 0.0361}, {"R", "", 0.0361}, {"R", "S", 0.0361}, {"R", "R", 0.05}} {
		got := of(c.refV, c.refI)
		for _, key := range []string{"e_on", "e_off", "e_tot"} {
			if math.Abs(got[key]-c.energy) > 2e-4 {
				t.Errorf("references %q and %q: the gains make %.4f of %s, expected %.4f", c.refV, c.refI, got[key], key, c.energy)
			}
		}
		if got["t_rise_v"] > 1e-6 || math.Abs(got["i_off"]-0.03) > 1e-6 {
			t.Errorf("references %q and %q: %v", c.refV, c.refI, got)
		}
	}
}

// A gain of 1 % that may drift by 0.6 % a year: after half a year, u² = 1 %² + (0.3 %)²/3
// (JCGM 100, 4.3.7); after the day it was due, more, and that is told; without a day the
// whole year counts.
func TestDriftSinceCalibration(t *testing.T) {
	day := func(text string) (d dpt.Traceable) {
		d.Calibrated, _ = dpt.ParseDate("2026-01-01")
		d.Due, _ = dpt.ParseDate("2027-01-01")
		d.Drift = 0.006
		return d
	}
	for date, want := range map[string]float64{"2026-01-01": 0, "2026-07-02": 0.5 * 182. / 182.5, "2027-01-01": 1, "2028-01-01": 2, "": 1} {
		opt := dpt.Defaults()
		opt.Channels = statedChannels(0.01, 0.01, 1)
		ch := opt.Channels[result.Vds]
		ch.Traceable = day(date)
		opt.Channels[result.Vds] = ch
		opt.Conditions = []result.Condition{{Key: "date", Value: math.NaN(), Text: date}}
		shot, err := dpt.Measure(wavetest.Example().Capture(1e-9, -lead+wavetest.OffGrid(1e-9, 3)), opt)
		if err != nil {
			t.Fatal(err)
		}
		found := false
		for _, c := range shot.Quantity("v_bus_off").Budget {
			if c.Source == "gain of vds" {
				found = true
				if want := math.Hypot(0.01, 0.006*want/math.Sqrt(3)); math.Abs(c.U-want) > 1e-8 {
					t.Errorf("%q: u of the gain is %.6f, expected %.6f", date, c.U, want)
				}
			}
		}
		overdue := 0
		for _, w := range shot.Warnings {
			if w.Code == waveform.CalibrationOverdue {
				overdue++
			}
		}
		if !found || (overdue == 1) != (date == "2028-01-01") {
			t.Errorf("%q: line found %t, %d warnings of an overdue calibration", date, found, overdue)
		}
	}
}

func TestParseAccuracy(t *testing.T) {
	for text, want := range map[string][2]float64{
		"1 % of reading + 0.5 % of range":              {0.01 / math.Sqrt(3), 0.005 * 1200 / math.Sqrt(3)},
		"1 % of reading + 0.5 % of range + 2 V, k = 2": {0.005, (6 + 2) / 2.},
		"0.5 V":               {math.NaN(), 0.5 / math.Sqrt(3)},
		"2 % of reading, k=1": {0.02, math.NaN()},
	} {
		a, err := dpt.ParseAccuracy(text, "V")
		same := func(a, b float64) bool { return math.Abs(a-b) < 1e-12 || math.IsNaN(a) && math.IsNaN(b) }
		if err != nil || !same(a.Gain(), want[0]) || !same(a.Zero(1200), want[1]) || a.Bounded == strings.Contains(text, "k") {
			t.Errorf("%q: %+v, %v", text, a, err)
		}
	}
	for text, want := range map[string]string{
		"": "expected parts", "1 %": "V", "1 % of scale": "neither of reading nor of range", "1 % of reading, k = 9": "coverage factor", "1 % of reading + 2 % of reading": "each part once",
		"1 % of reading, normal": "coverage factor", "0 % of reading": "above zero", "1 A": "V",
	} {
		if _, err := dpt.ParseAccuracy(text, "V"); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v, expected %q", text, err, want)
		}
	}
}

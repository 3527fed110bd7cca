package format

import (
	"fmt"
	"math"
	"strings"
	"testing"
)

// Times of day, as ISO 8601 and the habits of countries write them: whole
// seconds and femtoseconds, by arithmetic on the digits.
func TestClock(t *testing.T) {
	for cell, want := range map[string]instant{
		"10:23:11.5":                    {37391, 5e14},
		"00:00:00.000000800":            {0, 8e5 * 1e3},
		"2024-01-05 10:23:11,000000004": {37391, 4e6},
		"2024-01-05T10:23:11.25Z":       {37391, 25e13},
		"2024-01-05T10:23:11.25+01:00":  {37391, 25e13},
		"1/5/2024 12:00:01.0 AM":        {1, 0},
		"05.01.2024 1:00:00 PM":         {46800, 0},
		"23:11.5":                       {1391, 5e14},
		"0 days 00:00:00.000000004":     {0, 4e6},
	} {
		if got, _, ok := clock(cell); !ok || got != want {
			t.Errorf("%s: %v, %v; want %v", cell, got, ok, want)
		}
	}
	for _, cell := range []string{"10:23", "1:2:3:4", "12:75:00", "a:b:c", "10:23:", ":", "Sample Interval: 8e-10"} {
		if got, _, ok := clock(cell); ok {
			t.Errorf("%s: %v", cell, got)
		}
	}
}

// A stamp of 19 digits is read to the last one, where a float64 holds 16.
func TestInstant(t *testing.T) {
	d := dialect{point: '.'}
	for cell, want := range map[string]instant{
		"1704450191.000000004": {1704450191, 4e6},
		"-1.5":                 {-1, -5e14},
		"3600.000000000000001": {3600, 1},
		"1.7e9":                {1700000000, 0},
	} {
		if got, _, ok := d.instant([]byte(cell), 0); !ok || got != want {
			t.Errorf("%s: %v, %v; want %v", cell, got, ok, want)
		}
	}
	if got, _, ok := d.instant([]byte("1704450191000000004"), -9); !ok || got != (instant{1704450191, 4e6}) {
		t.Errorf("in nanoseconds: %v, %v", got, ok)
	}
	for _, cell := range []string{"", "x", "99999999999999999999", "1e300"} {
		if got, _, ok := d.instant([]byte(cell), 0); ok {
			t.Errorf("%s: %v", cell, got)
		}
	}
}

// Records whose time column tells the time of day count from their first
// sample; the first stamp stays in the header.
func TestClockColumns(t *testing.T) {
	plain := func(k int) string { return fmt.Sprintf("10:23:11.%09d", 4*k) }
	for _, c := range []struct {
		name, head, row string
		stamp           func(k int) string
		want            string
	}{
		{"time of day", "Time,a (V)\n", "%s,2.5\n", plain, "a [V] 50 from 0 every 4e-09: 2.5"},
		{"date and time", "Timestamp,a (V)\n", "2024-01-05T%sZ,2.5\n", plain, "a [V] 50 from 0 every 4e-09: 2.5"},
		{"date beside", "Date,Time,a (V)\n", "2024-01-05,%s,2.5\n", plain, "a [V] 50 from 0 every 4e-09: 2.5"},
		{"date by itself as a number", "Date;Time;a (V)\n", "20240105;%s;2.5\n", plain, "a [V] 50 from 0 every 4e-09: 2.5"},
		{"seconds beside", "Clock,Time (s),a (V)\n", "10:23:11,%s,2.5\n", func(k int) string { return fmt.Sprintf("%de-9", k) }, "a [V] 50 from 0 every 1e-09: 2.5"},
		{"over midnight", "Time,a (V)\n", "%s,2.5\n", func(k int) string {
			if k < 20 {
				return fmt.Sprintf("23:59:59.%09d", 1e9-80+4*k)
			}
			return fmt.Sprintf("00:00:00.%09d", 4*k-80)
		}, "a [V] 50 from 0 every 4e-09: 2.5"},
		{"seconds since 1970", "Time (s),a (V)\n", "%s,2.5\n", func(k int) string { return fmt.Sprintf("1704450191.%09d", 4*k) }, "a [V] 50 from 0 every 4e-09: 2.5"},
		{"too coarse", "Time,a (V)\n", "%s,2.5\n", func(k int) string { return fmt.Sprintf("10:23:11.%06d", k/20) }, "refused: time stamps with a resolution of"},
		{"coarse, with the interval", "Sample Interval,4e-9\nTime,a (V)\n", "%s,2.5\n", func(int) string { return "10:23:11.001" }, "a [V] 50 from 0 every 4e-09: 2.5; time-rounded"},
		{"a stamp that is none", "Time,a (V)\n", "%s,2.5\n", func(k int) string { return strings.Replace(plain(k), "10:23:11.000000120", "10:23", 1) }, "refused: a line of text inside a record"},
		{"back", "Time,a (V)\n", "%s,2.5\n", func(k int) string { return plain(k % 30) }, "refused: time goes back"},
		{"a log", "", "2024-01-05 %s INFO shot 1 armed\n", plain, "refused: text without a table"},
	} {
		var b strings.Builder
		b.WriteString(c.head)
		for k := range 50 {
			fmt.Fprintf(&b, c.row, c.stamp(k))
		}
		if got := short(b.String()); !strings.HasPrefix(got, c.want) || strings.Count(got, ";") != strings.Count(c.want, ";") {
			t.Errorf("%s: %s; want %s", c.name, got, c.want)
		}
	}
}

func FuzzInstant(f *testing.F) {
	for _, s := range []string{"10:23:11.5", "1704450191.000000004", "-1e-9", "23:11.25 PM"} {
		f.Add(s, 0)
	}
	f.Fuzz(func(t *testing.T, s string, shift int) {
		at, _, ok := dialect{point: '.'}.instant([]byte(s), shift%30)
		if ok && (at.fs <= -1e15 || at.fs >= 1e15) {
			t.Fatalf("%q: %v", s, at)
		}
		// What a float64 holds is the same either way.
		if v, base, isNumber := (dialect{point: '.'}).sample([]byte(s), shift%30); ok && isNumber && base == "" && math.Abs(v) < 1e9 && v == v {
			if got := at.since(instant{}); math.Abs(got-v) > 2e-15+4e-16*math.Abs(v) {
				t.Fatalf("%q·10^%d: %g by instant, %g by sample", s, shift%30, got, v)
			}
		}
	})
}

package viewer

import (
	"errors"
	"math"
	"strings"
	"testing"

	"slewbook/dpt/result"
)

// What the numbers rest on stands in the page: files and their hashes, program and
// settings, definitions, corrections, assumptions, and why a shot was refused.
func TestBasis(t *testing.T) {
	shots := campaign(t, "a", "b")
	for k, s := range shots {
		s.Files, s.SHA256 = []string{s.Capture + ".csv"}, []string{strings.Repeat(string(rune('1'+k)), 64)}
		s.Version, s.Settings = "v1", "s1"
	}
	shots[1].Settings = "s2"
	channel := result.Recording{Role: result.Vds, Trace: "CH<1>", Points: 9000, Dt: 8e-10, Bandwidth: 5e8, Bits: 12, Range: math.NaN(), Calibrated: "2026-03-01", Due: "2027-03-01"}
	longer := channel
	longer.Points = 9100
	shots[0].Channels, shots[1].Channels = []result.Recording{channel}, []result.Recording{longer}
	shots[0].Assumed = []string{"zero of vgs known to 66 mV (k = 1), 0.30 % of its span", "gain of id known to 1.0 % (k = 1)"}
	shots[1].Assumed = []string{"zero of vgs known to 71 mV (k = 1), 0.30 % of its span"}
	shots[2].Err = errors.New("row 7 is torn")
	page, _ := written(t, shots, 1e8)
	_, page, _ = strings.Cut(page, `<section id="summary"`)
	page = strings.Join(strings.Fields(page), " ")
	for what, want := range map[string]string{
		"reason of a refusal":   `<th scope="row">torn</th><td>row 7 is torn</td>`,
		"hash of a file":        `<th scope="row">b</th><td>b.csv</td><td><code>` + strings.Repeat("2", 64),
		"hash of a refused one": `<th scope="row">torn</th><td>torn.csv</td><td><code>` + strings.Repeat("3", 64),
		"settings":              `<th scope="row">v1</th><td><code>s2</code></td><td><code>not stated</code></td><td>1</td>`,
		"unlike settings":       `not all shots by the same program with the same settings`,
		"definition":            `<td>v10-i2</td><td>v 10 % to i 2 %</td>`,
		"source of a default":   `<td>v 10 % to v 90 %</td><td>voltage rise at turn-off, 10 to 90 % of the bus</td><td class="note">default; IEEE 181, JESD24`,
		"recording":             `<td>CH&lt;1&gt;</td><td>800 ps</td><td>9000 to 9100</td><td>500 MHz</td><td>12</td><td>not stated</td><td>2026-03-01, due 2027-03-01</td><td>all</td>`,
		"correction":            `<td>zero</td>`,
		"like assumptions once": `zero of vgs known to 66 mV (k = 1), 0.30 % of its span <small>(shots: all, with other figures in some)</small>`,
		"of one shot":           `gain of id known to 1.0 % (k = 1) <small>(shots: 1)</small>`,
	} {
		if !strings.Contains(page, want) {
			t.Errorf("%s: the page has no %s", what, want)
		}
	}
	if strings.Contains(page, "71 mV") {
		t.Error("an assumption stands twice for another figure")
	}
}

// A worst value leads to its shot.
func TestRatings(t *testing.T) {
	rows := ratings([]result.Margin{{Rating: "rated drain-source voltage", Key: "v_max", Unit: "V", Limit: 1200, Value: 998, U: 5, Capture: "a b", Margin: 202, Read: 1, Shots: 2}})
	links := 0
	for _, c := range rows[1] {
		if c.Link != "" {
			links++
			if c.Text != "a b" || c.Link != "shot=a+b&focus=v_max" {
				t.Errorf("%q leads to %q", c.Text, c.Link)
			}
		}
	}
	if len(rows) != 2 || links != 1 {
		t.Errorf("%d links in %v", links, rows)
	}
}

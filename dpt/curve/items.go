package curve

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"slewbook/dpt/result"
	"slewbook/waveform/unit"
)

// part is one thing to be stated, found under the first of its keys that a
// condition has, and in what the shots themselves tell of it.
type part struct {
	name string
	keys string // separated by blanks
	read func(shots []*result.Shot) (known, missing string)
}

// asked lists what a reader must know to repeat a test, under the thirteen
// headings of a test-condition record (common practice, no source). Every key
// of a set-up file or shot list counts.
var asked = []struct {
	name  string
	parts []part
}{
	{"Devices", []part{{name: "type and number", keys: "device"}, {name: "kind", keys: "kind"}, {name: "lot", keys: "lot"}, {name: "sample count", keys: "samples"}, {name: "package", keys: "package"},
		{name: "lead count", keys: "leads"}, {name: "freewheeling device", keys: "freewheel"}, {name: "its gate state", keys: "freewheel_gate"}}},
	{"Circuit", []part{{name: "drawing", keys: "drawing"}, {name: "measuring points", keys: "measuring_points"}, {name: "directions of currents", keys: "directions"}, {name: "position", keys: "position"}}},
	{"Bus", []part{{name: "voltage before the edges", read: measured("v_bus_on", "v_bus_off")}, {name: "sag, the forward voltage of what freewheels in it,", keys: "sag", read: measured("v_sag")}, {name: "capacitance", keys: "c_bus"}, {name: "type of the capacitor", keys: "c_bus_type"},
		{name: "loop inductance", keys: "l_loop", read: measured("l_loop")}, {name: "how it was obtained", keys: "l_loop_method"}}},
	{"Load", []part{{name: "inductance", keys: "l_load", read: measured("l_load")}, {name: "saturation current", keys: "l_load_isat"}, {name: "own capacitance", keys: "l_load_c"}}},
	{"Pulses", []part{{name: "widths", keys: "pulses", read: widths}, {name: "gap", keys: "gap", read: gaps}, {name: "dead time", keys: "dead_time"}, {name: "repetition", keys: "repetition"}, {name: "wait in the off state", keys: "wait"}}},
	{"Gate drive", []part{{name: "driver", keys: "driver"}, {name: "rails at the pins", keys: "rails", read: measured("vgs_low", "vgs_high")}, {name: "external resistor on", keys: "rg_on"}, {name: "external resistor off", keys: "rg_off"},
		{name: "internal resistance", keys: "rg_internal"}, {name: "Kelvin source", keys: "kelvin"}, {name: "stepped drive", keys: "stepped"}, {name: "gate history", keys: "gate_history"}}},
	{"Temperature", []part{{name: "junction", keys: "tj"}, {name: "case", keys: "tc"}, {name: "where and how measured", keys: "t_method"}, {name: "soak time", keys: "soak"}, {name: "insulation of the heater", keys: "heater_insulation"}}},
	{"Sensors", []part{{name: "voltage probe", keys: "probe_vds"}, {name: "current sensor", keys: "probe_id"}, {name: "gate probe", keys: "probe_vgs"}, {name: "ratios", keys: "ratios"}, {name: "bandwidths", keys: "bandwidths", read: channels(bandwidthOf)},
		{name: "ratings", keys: "ratings"}, {name: "calibration dates", keys: "calibrated", read: channels(calibrationOf)}}},
	{"Instrument", []part{{name: "scope", keys: "scope"}, {name: "bits", keys: "bits", read: channels(bitsOf)}, {name: "sample rate", keys: "sample_rate", read: channels(rateOf)}, {name: "record length", keys: "record_length", read: channels(lengthOf)},
		{name: "bandwidth limit", keys: "bandwidth_limit"}, {name: "averaging", keys: "averaging"}, {name: "full scale", keys: "full_scale", read: channels(fullScaleOf)}}},
	{"Corrections", nil},
	{"Definitions", nil},
	{"Uncertainty and repeats", nil},
	{"Record", []part{{name: "raw data", keys: "raw_data"}, {name: "date", keys: "date"}, {name: "place", keys: "place"}, {name: "people", keys: "people operator"}, {name: "deviations", keys: "deviations remark"}}},
}

// Items lists under thirteen headings what the shots state of their test, and
// what they do not.
func Items(shots []*result.Shot, series []*Series) []result.PageItem {
	var out []result.PageItem
	for _, heading := range asked {
		item := result.PageItem{Name: heading.name}
		for _, p := range heading.parts {
			known, missing := p.find(shots)
			item.Known, item.Missing = append(item.Known, known...), append(item.Missing, missing...)
		}
		switch heading.name {
		case "Corrections":
			item.Known, item.Missing = corrections(shots)
		case "Definitions":
			item.Known, item.Missing = definitions(shots, series)
		case "Uncertainty and repeats":
			item.Known, item.Missing = repeats(shots, series)
		case "Record":
			item.Known = append(item.Known, software(shots))
		}
		out = append(out, item)
	}
	if slices.ContainsFunc(shots, (*result.Shot).IGBT) {
		for _, item := range out {
			for _, texts := range [][]string{item.Known, item.Missing} {
				for k := range texts {
					texts[k] = result.IGBTWords(texts[k])
				}
			}
		}
	}
	return out
}

// find returns what the shots tell of a part, and what of it they do not.
func (p part) find(shots []*result.Shot) (known, missing []string) {
	if text := Stated(shots, p.keys); text != "" {
		known = append(known, p.name+" "+text)
	}
	text, lacks := "", ""
	if p.read != nil {
		text, lacks = p.read(shots)
	}
	switch {
	case text != "" && len(known) > 0:
		known[0] += ", " + text
	case text != "":
		known = append(known, p.name+" "+text)
	}
	switch {
	case len(known) == 0:
		missing = []string{p.name}
	case lacks != "":
		missing = []string{p.name + lacks}
	}
	return known, missing
}

// Stated returns the values of a condition over the measured shots, at most four of them.
func Stated(shots []*result.Shot, keys string) string {
	for _, key := range strings.Fields(keys) {
		if values := valuesOf(shots, key); len(values) > 0 {
			return atMost(values, 4)
		}
	}
	return ""
}

// atMost lists up to so many words, and how many more there are.
func atMost(words []string, most int) string {
	if n := len(words); n > most {
		return strings.Join(words[:most-1], ", ") + fmt.Sprintf(" and %d more", n-most+1)
	}
	return strings.Join(words, ", ")
}

// corrections lists what was done to the channels before anything was read, in its
// order, each kind with the range of its values over the shots.
func corrections(shots []*result.Shot) (known, missing []string) {
	type done struct {
		kind, channel, base string
		lo, hi              float64
		shots               int
		last                *result.Shot
	}
	var all []*done
	measured := 0
	for _, s := range shots {
		if s.Err != nil {
			continue
		}
		measured++
		for _, c := range s.Corrections {
			k := slices.IndexFunc(all, func(d *done) bool { return d.kind == c.Kind && d.channel == string(c.Channel) })
			if k < 0 {
				k = len(all)
				all = append(all, &done{c.Kind, string(c.Channel), c.Unit, math.Inf(1), math.Inf(-1), 0, nil})
			}
			if all[k].last != s {
				all[k].last = s
				all[k].shots++
			}
			if c.Value-c.Value == 0 {
				all[k].lo, all[k].hi = min(all[k].lo, c.Value), max(all[k].hi, c.Value)
			}
		}
	}
	for _, d := range all {
		text := d.kind + " of " + d.channel
		switch {
		case d.lo < d.hi:
			text += fmt.Sprintf(" %s to %s", unit.Format(d.lo, d.base, 3), unit.Format(d.hi, d.base, 3))
		case d.lo == d.hi:
			text += " " + unit.Format(d.lo, d.base, 3)
		}
		if d.shots < measured {
			text += fmt.Sprintf(" in %d of %d shots", d.shots, measured)
		}
		known = append(known, text)
	}
	if text := Stated(shots, "corrections"); text != "" {
		known = append(known, text)
	}
	switch {
	case len(known) > 0:
	case measured > 0:
		known = []string{"none made"}
	default:
		missing = []string{"zero, delay, sensor, filter: values and order"}
	}
	return known, missing
}

func definitions(shots []*result.Shot, series []*Series) (known, missing []string) {
	recovery := false
	for _, s := range series {
		isRecovery := slices.Contains([]string{"e_rr", "t_rr", "q_rr", "i_rrm"}, s.Key)
		recovery = recovery || isRecovery && s.Definition != ""
		if (s.Unit == "J" || isRecovery) && s.Key != "e_tot" {
			if s.Definition == "" {
				missing = append(missing, "definition of "+s.Key)
			} else {
				known = append(known, s.Key+" by "+s.Definition)
			}
		}
	}
	if !recovery {
		missing = append(missing, "rule of recovery")
	}
	if text := Stated(shots, "c_oss e_oss"); text != "" {
		known = append(known, "output capacitance "+text)
	} else {
		missing = append(missing, "output capacitance")
	}
	return append(known, "energies at the sense points, capacitive charge left in unless the definition says otherwise"), missing
}

func repeats(shots []*result.Shot, series []*Series) (known, missing []string) {
	failed, without := 0, 0
	for _, s := range shots {
		if s.Err != nil {
			failed++
		}
	}
	for _, s := range series {
		for _, p := range s.Points {
			if math.IsNaN(p.U) {
				without++
			}
		}
	}
	known = append(known, fmt.Sprintf("%d shots, %d of them not measured (reasons in shots.csv); none left out of the fits", len(shots), failed), "U is twice the standard uncertainty of one shot")
	var counts extent
	var assumed []string
	for _, s := range series {
		for _, g := range groups(s.Points, "") {
			counts.add(float64(len(g.points)))
		}
	}
	for _, s := range shots {
		for _, text := range s.Assumed {
			if !slices.Contains(assumed, text) {
				assumed = append(assumed, text)
			}
		}
	}
	if counts.n > 0 {
		known = append(known, counts.text("", 1)+" shots at one set of conditions")
	}
	if len(assumed) > 0 {
		known = append(known, "assumed where nothing tells: "+atMost(assumed, 4))
	}
	if without > 0 {
		missing = append(missing, fmt.Sprintf("uncertainty of %d values", without))
	}
	return known, missing
}

func software(shots []*result.Shot) string {
	var versions, settings []string
	for _, s := range shots {
		if s.Version != "" && !slices.Contains(versions, s.Version) {
			versions = append(versions, s.Version)
		}
		if s.Settings != "" && !slices.Contains(settings, s.Settings) {
			settings = append(settings, s.Settings)
		}
	}
	return "slewbook " + strings.Join(versions, ", ") + ", settings " + atMost(settings, 4)
}

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
// condition has.
type part struct {
	name string
	keys string // separated by blanks
}

// asked lists what a reader must know to repeat a test, under the thirteen
// headings of a test-condition record (common practice, no source). Every key
// of a set-up file or shot list counts.
var asked = []struct {
	name  string
	parts []part
}{
	{"Devices", []part{{"type and number", "device"}, {"kind", "kind"}, {"lot", "lot"}, {"sample count", "samples"}, {"package", "package"}, {"lead count", "leads"}, {"freewheeling device", "freewheel"}, {"its gate state", "freewheel_gate"}}},
	{"Circuit", []part{{"drawing", "drawing"}, {"measuring points", "measuring_points"}, {"directions of currents", "directions"}, {"position", "position"}}},
	{"Bus", []part{{"capacitance", "c_bus"}, {"type of the capacitor", "c_bus_type"}, {"loop inductance", "l_loop"}, {"how it was obtained", "l_loop_method"}, {"sag", "sag"}}},
	{"Load", []part{{"inductance", "l_load"}, {"saturation current", "l_load_isat"}, {"own capacitance", "l_load_c"}}},
	{"Pulses", []part{{"widths", "pulse_1 pulses"}, {"gap", "gap"}, {"dead time", "dead_time"}, {"repetition", "repetition"}, {"wait in the off state", "wait"}}},
	{"Gate drive", []part{{"driver", "driver"}, {"rails at the pins", "rails vgs_on"}, {"external resistor on", "rg_on"}, {"external resistor off", "rg_off"}, {"internal resistance", "rg_internal"}, {"Kelvin source", "kelvin"}, {"stepped drive", "stepped"}, {"gate history", "gate_history"}}},
	{"Temperature", []part{{"junction", "tj"}, {"case", "tc"}, {"where and how measured", "t_method"}, {"soak time", "soak"}, {"insulation of the heater", "heater_insulation"}}},
	{"Sensors", []part{{"voltage probe", "probe_vds"}, {"current sensor", "probe_id"}, {"gate probe", "probe_vgs"}, {"ratios", "ratios"}, {"bandwidths", "bandwidths"}, {"ratings", "ratings"}, {"calibration dates", "calibrated"}}},
	{"Instrument", []part{{"scope", "scope"}, {"bits", "bits"}, {"sample rate", "sample_rate"}, {"record length", "record_length"}, {"bandwidth limit", "bandwidth_limit"}, {"averaging", "averaging"}, {"full scale", "full_scale"}}},
	{"Corrections", nil},
	{"Definitions", nil},
	{"Uncertainty and repeats", nil},
	{"Record", []part{{"raw data", "raw_data"}, {"date", "date"}, {"place", "place"}, {"people", "people operator"}, {"deviations", "deviations remark"}}},
}

// Items lists under thirteen headings what the shots state of their test, and
// what they do not.
func Items(shots []*result.Shot, series []*Series) []result.PageItem {
	var out []result.PageItem
	for _, heading := range asked {
		item := result.PageItem{Name: heading.name}
		for _, p := range heading.parts {
			if text := stated(shots, p.keys); text != "" {
				item.Known = append(item.Known, p.name+" "+text)
			} else {
				item.Missing = append(item.Missing, p.name)
			}
		}
		switch heading.name {
		case "Bus":
			item.Known = append(item.Known, measuredRange(shots, "bus voltage before the edges", "v_bus_on", "v_bus_off"))
		case "Corrections":
			item.Known, item.Missing = corrections(shots)
		case "Definitions":
			item.Known, item.Missing = definitions(shots, series)
		case "Uncertainty and repeats":
			item.Known, item.Missing = repeats(shots, series)
		case "Record":
			item.Known = append(item.Known, software(shots))
		}
		item.Known = slices.DeleteFunc(item.Known, func(s string) bool { return s == "" })
		out = append(out, item)
	}
	return out
}

// stated returns the values of a condition over the shots, at most four of them.
func stated(shots []*result.Shot, keys string) string {
	for _, key := range strings.Fields(keys) {
		var values []string
		for _, s := range shots {
			text := conditionShown(s, key)
			if text != "" && !slices.Contains(values, text) {
				values = append(values, text)
			}
		}
		if n := len(values); n > 4 {
			return strings.Join(values[:3], ", ") + fmt.Sprintf(" and %d more", n-3)
		} else if n > 0 {
			return strings.Join(values, ", ")
		}
	}
	return ""
}

// conditionUnits are those of the conditions that are numbers, as results hold them.
var conditionUnits = map[string]string{"rg_on": "ohm", "rg_off": "ohm", "rg_internal": "ohm", "l_loop": "H", "l_load": "H", "c_bus": "F", "v_bus": "V", "tj": "K", "tc": "K"}

func conditionShown(s *result.Shot, key string) string {
	if base, ok := conditionUnits[key]; ok {
		if x := condition(s, key); x-x == 0 {
			return unit.Format(x, base, 3)
		}
	}
	return conditionText(s, key)
}

func measuredRange(shots []*result.Shot, name string, keys ...string) string {
	lo, hi, base := math.Inf(1), math.Inf(-1), ""
	for _, s := range shots {
		for _, key := range keys {
			if m := s.Quantity(key); m != nil && m.Value-m.Value == 0 {
				lo, hi, base = min(lo, m.Value), max(hi, m.Value), m.Unit
			}
		}
	}
	if lo > hi {
		return ""
	}
	return fmt.Sprintf("%s %s to %s as measured", name, unit.Format(lo, base, 4), unit.Format(hi, base, 4))
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
	if text := stated(shots, "corrections"); text != "" {
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
	if text := stated(shots, "c_oss e_oss"); text != "" {
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
	if n := len(settings); n > 3 {
		settings = append(settings[:3], fmt.Sprintf("and %d more", n-3))
	}
	return "slewbook " + strings.Join(versions, ", ") + ", settings " + strings.Join(settings, ", ")
}

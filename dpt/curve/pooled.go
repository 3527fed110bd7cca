package curve

import (
	"slices"
	"strings"

	"slewbook/dpt/result"
)

// drawn are the conditions that lines and surfaces tell apart.
var drawn = []string{"v_bus", "i_load", "tj", "tc", "rg_on", "rg_off"}

// pooled tells which conditions shots have unlike that no line tells apart, so that a
// spread that is no noise is not taken for it.
func pooled(shots []*result.Shot, by string) []string {
	var out []string
	for _, key := range conditionKeys(shots) {
		if slices.Contains(drawn, key) || strings.TrimPrefix(key, notePrefix) == strings.TrimPrefix(by, notePrefix) || slices.Contains([]string{"repeat", "remark"}, strings.TrimPrefix(key, notePrefix)) {
			continue
		}
		if values := valuesOf(shots, key); len(values) > 1 {
			key = strings.TrimPrefix(key, notePrefix)
			out = append(out, "shots of unlike "+key+" are put together: "+atMost(values, 4)+" (--by "+key+" keeps them apart)")
		}
	}
	if len(valuesOf(shots, "tc")) > 0 && len(valuesOf(shots, "tj")) == 0 {
		out = append(out, "T_j is the temperature of the case, since no shot states that of the junction")
	}
	return out
}

// conditionKeys lists the conditions of the measured shots.
func conditionKeys(shots []*result.Shot) []string {
	var keys []string
	for _, s := range shots {
		for _, c := range s.Conditions {
			if s.Err == nil && !slices.Contains(keys, c.Key) {
				keys = append(keys, c.Key)
			}
		}
	}
	return keys
}

// valuesOf lists the values of a condition over the measured shots, "not stated" among
// them where some have one and some have none.
func valuesOf(shots []*result.Shot, key string) []string {
	var out []string
	none := false
	for _, s := range shots {
		if s.Err != nil {
			continue
		}
		text := conditionShown(s, key)
		if none = none || text == ""; text != "" && !slices.Contains(out, text) {
			out = append(out, text)
		}
	}
	if none && len(out) > 0 {
		out = append(out, "not stated")
	}
	return out
}

// inCommon lists the conditions of which all measured shots have the same value.
func inCommon(shots []*result.Shot) [][]string {
	out := [][]string{}
	for _, key := range conditionKeys(shots) {
		if values := valuesOf(shots, key); len(values) == 1 {
			out = append(out, []string{key, values[0]})
		}
	}
	return out
}

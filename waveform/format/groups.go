package format

import (
	"fmt"
	"path"
	"regexp"
	"strings"

	"slewbook/waveform"
)

// fromGroups makes captures of the vectors of a container that can hold groups
// of them: one, where they lie in one group; else each group with its time is a
// shot, or a channel where it holds a single series. Numbers that stand alone,
// and a time that is no group's own, belong to all groups below theirs.
func fromGroups(in Input, layout string, vs []vector, fields []field) ([]*waveform.Capture, error) {
	vs = rowsAsShots(vs)
	groups := sampleGroups(vs)
	if len(groups) < 2 {
		c, err := fromVectors(in, layout, vs, fields)
		if err != nil {
			return nil, err
		}
		return []*waveform.Capture{c}, nil
	}
	var all []*waveform.Capture
	single := true
	for _, g := range groups {
		c, err := fromVectors(in, layout, groupVectors(vs, g), fields)
		if err != nil {
			if p, ok := err.(*ParseError); ok {
				p.Found = fmt.Sprintf("group %s of %d: %s", g, len(groups), p.Found)
			}
			return nil, err
		}
		single = single && len(c.Traces) == 1
		all = append(all, c)
	}
	if single && !numberedShots(groups) {
		return []*waveform.Capture{asChannels(all, groups)}, nil
	}
	for i, c := range all {
		c.Segments = len(all)
		c.Header = append(c.Header, waveform.Field{Key: "group", Value: groups[i]})
	}
	if k, err := alike(all); err != nil {
		return nil, in.fault(fmt.Sprintf("group %s: %s", groups[k], err.Found), err.Expected, err.Do)
	}
	return all, nil
}

// sampleGroups lists the groups that hold samples, in order: those below the
// top, if nothing but time stands there.
func sampleGroups(vs []vector) []string {
	var groups []string
	seen := map[string]bool{}
	for _, v := range vs {
		if len(v.y) < 2 || isTime(v) {
			continue
		}
		if !seen[v.group] {
			groups = append(groups, v.group)
		}
		seen[v.group] = true
	}
	if seen[""] {
		return nil
	}
	return groups
}

// groupVectors returns the vectors of a group, with the numbers of those above
// it and, unless it has a time of its own, their time.
func groupVectors(vs []vector, group string) []vector {
	own := false
	for _, v := range vs {
		own = own || v.group == group && len(v.y) > 1 && isTime(v)
	}
	var all []vector
	for _, v := range vs {
		above := v.group == "" || strings.HasPrefix(group, v.group+"/")
		if v.group == group || above && (len(v.y) == 1 || !own && isTime(v)) {
			all = append(all, v)
		}
	}
	return all
}

// isTime tells whether a vector is named as time.
func isTime(v vector) bool {
	name, symbol := splitUnit(v.name)
	_, base, _ := cellSymbol(v.unit + symbol)
	return base == "s" || vectorTime.MatchString(name)
}

var shotName = regexp.MustCompile(`(?i)^(segment|seg|frame|shot|sweep|acquisition|acq|capture|record|rec|trigger|trig|pulse|run|test)?[ _-]*\d+$`)

// numberedShots tells whether the groups are numbered as shots are.
func numberedShots(groups []string) bool {
	for _, g := range groups {
		if !shotName.MatchString(path.Base(g)) {
			return false
		}
	}
	return true
}

// asChannels puts captures of one channel each together, under the names of
// their groups where their own do not tell them apart.
func asChannels(all []*waveform.Capture, groups []string) *waveform.Capture {
	var names []string
	for _, c := range all {
		names = append(names, c.Traces[0].Name)
	}
	keep := distinct(names)
	for i, c := range all {
		if !keep {
			rename(c, path.Base(groups[i]))
		}
		if i > 0 {
			all[0].Traces = append(all[0].Traces, c.Traces...)
			all[0].Warnings = append(all[0].Warnings, c.Warnings...)
		}
	}
	return all[0]
}

// rowsAsShots takes arrays of two dimensions beside a time of one for shots, if
// there are several of as many series each: vds and id of ten shots.
func rowsAsShots(vs []vector) []vector {
	series := map[string]int{}
	time, n := false, 0
	for _, v := range vs {
		switch {
		case v.table != "":
			series[v.table]++
			n = series[v.table]
		case isTime(v) && len(v.y) > 1:
			time = true
		case len(v.y) > 1:
			return vs
		}
	}
	if !time || len(series) < 2 {
		return vs
	}
	for _, k := range series {
		if k != n {
			return vs
		}
	}
	at := map[string]int{}
	out := make([]vector, len(vs))
	for i, v := range vs {
		if out[i] = v; v.table == "" {
			continue
		}
		at[v.table]++
		out[i].name, out[i].group, out[i].table = v.table, fmt.Sprintf("shot %d", at[v.table]), ""
	}
	return out
}

package result

import (
	"fmt"
	"strconv"
	"strings"
)

// defaultDwell is how long ".dwell" without a time asks for [s].
const defaultDwell = 50e-9

// ParseWindow builds an energy window of an edge from its name:
//
//	START-END[+TIME][.RULE]   "v10-i2", "g90-i10+5us", "i10-v2.last"
//	START-TIME                "v5-5us": ends that long after its start
//	fixed-TIME                the same from v 10 % at turn-off, i 10 % at turn-on
//
// START and END are v, i or g with the per cent of their base, TIME a number of
// ns, us or ms, RULE one of last, settled, dwell and dwell-TIME (dwell: 50 ns). A
// turn-off starts with v, with g from 50 % on, or with i from 50 % on; a turn-on
// with i or g below that. The error says what the name should look like.
func ParseWindow(name string, edge Edge) (Window, error) {
	w := Window{Name: name, Edge: edge, Source: "user-defined, by its name"}
	for _, v := range variants {
		if v.name == name {
			w.Source = v.source
		}
	}
	wrong := fmt.Errorf("%q names no energy window at %s; expected such as v10-i2, v7.5-i3.last, g90-i10+5us, v5-5us, fixed-2us", name, edge)
	body, rule := name, ""
	for _, r := range []EndRule{DwellEnd, LastEnd, SettledEnd} {
		if k := strings.LastIndex(name, "."+string(r)); k > 0 {
			body, rule = name[:k], name[k+1:]
		}
	}
	start, end, ok := strings.Cut(body, "-")
	if !ok || !w.setRule(rule) {
		return w, wrong
	}
	if start == "fixed" {
		start = map[Edge]string{TurnOff: "v10", TurnOn: "i10"}[edge]
	}
	if w.Start, ok = parseLimit(start); !ok || w.Start.edge() != edge {
		return w, wrong
	}
	if t, ok := parseTime(end); ok {
		w.Duration = t
		if rule != "" {
			return w, wrong
		}
		return w, nil
	}
	end, tail, more := strings.Cut(end, "+")
	if more {
		if w.Tail, ok = parseTime(tail); !ok {
			return w, wrong
		}
	}
	if w.End, ok = parseLimit(end); !ok {
		return w, wrong
	}
	return w, nil
}

// edge tells which edge a window that starts with the limit belongs to.
func (l Limit) edge() Edge {
	if l.Signal == Vds || l.Percent >= 50 {
		return TurnOff
	}
	return TurnOn
}

func (w *Window) setRule(text string) bool {
	head, time, timed := strings.Cut(text, "-")
	w.Rule = EndRule(head)
	if w.Rule != DwellEnd {
		return !timed
	}
	w.Dwell = defaultDwell
	if timed {
		w.Dwell, timed = parseTime(time)
		return timed
	}
	return true
}

func parseLimit(text string) (Limit, bool) {
	if len(text) < 2 {
		return Limit{}, false
	}
	role, ok := map[byte]Role{'v': Vds, 'i': Id, 'g': Vgs}[text[0]]
	p, err := strconv.ParseFloat(text[1:], 64)
	return Limit{role, p}, ok && err == nil && p > 0 && p < 100
}

// parseTime reads "2us", "50ns", "0.1ms" [s].
func parseTime(text string) (float64, bool) {
	for _, u := range []struct {
		name string
		s    float64
	}{{"ns", 1e-9}, {"us", 1e-6}, {"ms", 1e-3}} {
		if head, ok := strings.CutSuffix(text, u.name); ok {
			t, err := strconv.ParseFloat(head, 64)
			return t * u.s, err == nil && t > 0 && t < 1e6
		}
	}
	return 0, false
}

package dpt

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"

	"slewbook/dpt/result"
)

// SelectDefinition has the quantity of that key read under a named definition.
func (o *Options) SelectDefinition(key, name string) error {
	if _, err := result.FindDefinition(key, name); err != nil {
		return err
	}
	switch key {
	case "e_off":
		o.WindowOff = name
	case "e_on":
		o.WindowOn = name
	default:
		chosen := maps.Clone(o.Definitions)
		if chosen == nil {
			chosen = map[string]string{}
		}
		chosen[key] = name
		o.Definitions = chosen
	}
	return nil
}

// SelectSet has all quantities that a named set names read under its definitions.
func (o *Options) SelectSet(name string) error {
	set, err := result.FindSet(name)
	if err != nil {
		return err
	}
	for _, c := range set.Choices {
		if err := o.SelectDefinition(c.Key, c.Name); err != nil {
			return err
		}
	}
	return nil
}

func (o Options) validateDefinitions() error {
	for _, key := range slices.Sorted(maps.Keys(o.Definitions)) {
		if _, err := result.FindDefinition(key, o.Definitions[key]); err != nil {
			return err
		}
		if o.Definitions[key] == "span" && !(o.SpanTo > 0) {
			return fmt.Errorf("%s is asked for over a span of voltage, but no span is given; give definitions.span_from and definitions.span_to in the set-up file", key)
		}
	}
	if (o.SpanFrom != 0 || o.SpanTo != 0) && !(o.SpanFrom > 0 && o.SpanTo > o.SpanFrom) {
		return fmt.Errorf("the span of voltage runs from %g V to %g V; expected two voltages above 0, the upper one larger", o.SpanFrom, o.SpanTo)
	}
	return nil
}

// wants tells whether a named definition is to be read.
func (m *measurer) wants(key, name string) bool {
	if name == "span" && !(m.opt.SpanTo > 0) {
		return false
	}
	return m.opt.AllDefinitions || m.opt.Definitions[key] == name
}

// windows lists the energy windows that are read at an edge.
func (m *measurer) windows(kind result.Edge) []result.Window {
	var ws []result.Window
	add := func(name string) {
		if w, ok := result.FindWindow(name, kind); ok && !slices.ContainsFunc(ws, func(x result.Window) bool { return x.Name == name }) {
			ws = append(ws, w)
		}
	}
	for _, w := range result.Windows {
		if w.Edge == kind {
			add(w.Name)
		}
	}
	add(m.window(kind))
	if m.opt.AllDefinitions {
		for _, d := range result.Definitions() {
			if d.Key == energyKey(kind) {
				add(d.Name)
			}
		}
	}
	return ws
}

func (m *measurer) window(kind result.Edge) string {
	if kind == result.TurnOff {
		return m.opt.WindowOff
	}
	return m.opt.WindowOn
}

// choose makes the readings under the definitions that were asked for those of
// the plain keys. A name stands before what it means, so that nobody takes the
// number for the default's.
func (m *measurer) choose(kind result.Edge, q map[string]reading) {
	if r, ok := q[energyKey(kind)+"."+m.window(kind)]; ok {
		q[energyKey(kind)] = r
	}
	for key, name := range m.opt.Definitions {
		r, ok := q[key+"."+name]
		if !ok {
			continue
		}
		r.warnings = slices.Clone(r.warnings)
		if name != result.Default(key, m.opt.Device == IGBT) {
			r.def = name + ": " + strings.TrimPrefix(r.def, name+": ")
		}
		q[key] = r
	}
}

// shape is a transition of one signal at one edge: the keys of its time and of
// its slope.
type shape struct {
	time, slope string
	signal      result.Role
	rises       bool
}

func (e *edge) shapes() []shape {
	v := shape{"t_rise_v", "dvdt_off", result.Vds, true}
	i := shape{"t_fall_i", "didt_off", result.Id, false}
	if e.kind == result.TurnOn {
		v = shape{"t_fall_v", "dvdt_on", result.Vds, false}
		i = shape{"t_rise_i", "didt_on", result.Id, true}
	}
	if e.idle {
		return []shape{v}
	}
	return []shape{v, i}
}

// readNamed reads times, slopes and delays under the named definitions that are
// asked for.
func (m *measurer) readNamed(e *edge, q map[string]reading) {
	for _, s := range e.shapes() {
		m.readShape(e, s, q)
	}
	forms := map[string][2]result.Limit{"td_off.g90-v10": {g(90), v(10)}, "td_off.g90-i90": {g(90), i(90)},
		"t_off.g90-v90": {g(90), v(90)}, "t_off.g90-i10": {g(90), i(10)}}
	if e.kind == result.TurnOn {
		forms = map[string][2]result.Limit{"td_on.g10-v90": {g(10), v(90)}, "td_on.g10-i10": {g(10), i(10)},
			"t_on.g10-v10": {g(10), v(10)}, "t_on.g10-i90": {g(10), i(90)}}
	}
	for key, l := range forms {
		if column, name, _ := strings.Cut(key, "."); !e.idle && m.wants(column, name) {
			q[key] = e.duration(l[0], l[1])
		}
	}
}

func (m *measurer) readShape(e *edge, s shape, q map[string]reading) {
	base := e.bus.level
	if s.signal == result.Id {
		base = e.load
	}
	between := func(lo, hi float64) reading {
		a, b := result.Limit{Signal: s.signal, Percent: lo}, result.Limit{Signal: s.signal, Percent: hi}
		if !s.rises {
			a, b = b, a
		}
		return e.duration(a, b)
	}
	set := func(key, name string, read func() reading) {
		if m.wants(key, name) {
			q[key+"."+name] = read()
		}
	}
	plain := q[s.time]
	set(s.time, "10-90", func() reading { return plain })
	set(s.time, "20-80", func() reading { return between(20, 80) })
	set(s.slope, "10-90", func() reading { return q[s.slope] })
	set(s.slope, "20-80", func() reading { return average(between(20, 80), base, 60) })
	set(s.slope, "40-60", func() reading { return average(between(40, 60), base, 20) })
	set(s.slope, "max", func() reading { return q[s.slope+"_max"] })
	set(s.slope, "swing-over-10-90", func() reading {
		r := average(plain, base, 100)
		r.def = "full swing over the time from " + plain.def
		return r
	})
	if s.signal == result.Vds {
		set(s.slope, "span", func() reading {
			lo, hi := 100*m.opt.SpanFrom/base, 100*m.opt.SpanTo/base
			r := average(between(lo, hi), base, hi-lo)
			r.def = fmt.Sprintf("average between %.4g V and %.4g V", m.opt.SpanFrom, m.opt.SpanTo)
			if !(hi < 100) {
				r.warn(e.spanWarning(m.opt))
				r.value = math.NaN()
			}
			return r
		})
	}
}

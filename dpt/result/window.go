package result

import (
	"fmt"
	"strings"
)

// Limit is one end of an energy window: a signal that passes a percentage of
// its base. Voltage is referred to the bus, current to the load current, gate
// to the swing between its settled levels.
type Limit struct {
	Signal  Role // Vds, Id or Vgs
	Percent float64
}

func (l Limit) String() string {
	name, ok := map[Role]string{Vds: "v", Id: "i", Vgs: "gate"}[l.Signal]
	if !ok {
		name = string(l.Signal)
	}
	return fmt.Sprintf("%s %g %%", name, l.Percent)
}

// EndRule says which crossing of its end level ends a window.
type EndRule string

// Rules for the end of a window under ringing.
const (
	FirstEnd   EndRule = ""        // the first crossing
	DwellEnd   EndRule = "dwell"   // the first crossing after which the level is kept for Window.Dwell
	LastEnd    EndRule = "last"    // the last crossing that stands out of the noise
	SettledEnd EndRule = "settled" // from where on the running integral stays within 1 %
)

// Window is a named energy window. It starts at the first crossing of Start after
// the gate's command, or after the start of the edge without a gate channel, and
// ends at the crossing of End that Rule says.
type Window struct {
	Name       string
	Edge       Edge
	Start, End Limit
	Duration   float64 // [s]; if above 0 the window ends that long after its start, and End is not used
	Tail       float64 // [s]; how long it goes on after the crossing of End
	Rule       EndRule
	Dwell      float64 // [s]; of DwellEnd
	Source     string  // who uses it, and how sure that is
}

// Ends says in words where the window ends.
func (w Window) Ends() string {
	if w.Duration > 0 {
		return fmt.Sprintf("%.4g µs after its start", w.Duration*1e6)
	}
	text := w.End.String()
	switch w.Rule {
	case DwellEnd:
		text += fmt.Sprintf(", kept for %.4g ns", w.Dwell*1e9)
	case LastEnd:
		text += ", its last crossing"
	case SettledEnd:
		text += ", or later, from where on ∫v·i dt stays within 1 % for as long as the window to the first crossing lasts"
	}
	if w.Tail > 0 {
		text += fmt.Sprintf(" and %.4g µs more", w.Tail*1e6)
	}
	return text
}

func (w Window) String() string { return fmt.Sprintf("%s to %s", w.Start, w.Ends()) }

// Windows lists the named windows. The attributions and how sure they are
// stand beside each.
var Windows = []Window{
	{Name: "v10-i2", Edge: TurnOff, Start: Limit{Vds, 10}, End: Limit{Id, 2}, Source: "default; a module maker's IGBT handbook (text seen)"},
	{Name: "v10-i10", Edge: TurnOff, Start: Limit{Vds, 10}, End: Limit{Id, 10}, Source: "IEC 60747-8 fig. 2 (from memory)"},
	{Name: "g90-i2", Edge: TurnOff, Start: Limit{Vgs, 90}, End: Limit{Id, 2}, Source: "IEC 60747-9 as used for discrete IGBTs (from memory)"},
	{Name: "v5-i5", Edge: TurnOff, Start: Limit{Vds, 5}, End: Limit{Id, 5}, Source: "discrete IGBT sheets (text seen)"},
	{Name: "i10-v2", Edge: TurnOn, Start: Limit{Id, 10}, End: Limit{Vds, 2}, Source: "default; a module maker's IGBT handbook (from memory)"},
	{Name: "i10-v10", Edge: TurnOn, Start: Limit{Id, 10}, End: Limit{Vds, 10}, Source: "IEC 60747-8 fig. 2 (from memory)"},
	{Name: "g10-v2", Edge: TurnOn, Start: Limit{Vgs, 10}, End: Limit{Vds, 2}, Source: "IEC 60747-9 as used for discrete IGBTs (from memory)"},
	{Name: "i10-v5", Edge: TurnOn, Start: Limit{Id, 10}, End: Limit{Vds, 5}, Source: "discrete IGBT sheets (text seen)"},
	{Name: "i5-v5", Edge: TurnOn, Start: Limit{Id, 5}, End: Limit{Vds, 5}, Source: "common practice, no source"},
}

// variants are windows of makers' documents that are built by rules of ParseWindow
// and read only where they are asked for.
var variants = []struct{ name, source string }{
	{"v5-5us", "a discrete IGBT sheet: a fixed time from v 5 % (text seen)"},
	{"v10-2us", "a discrete IGBT sheet: a fixed 2 µs window (text seen; its start from memory)"},
	{"g90-i10+5us", "a press-pack IGBT sheet, for the whole tail (text seen)"},
	{"g90-i2.last", "the sheets that say \"tail included\" without an end (common practice, no source)"},
	{"i90-40us", "a GCT and GTO sheet: fixed time from i 90 % at turn-off (text seen)"},
	{"g10-v10+5us", "a press-pack IGBT sheet: 5 µs after the last mark of the edge (text seen)"},
	{"g10-20us", "a GCT and GTO sheet: fixed time from gate 10 % at turn-on (text seen)"},
}

// FindWindow returns the window of that name and edge: a named one, or one that
// is built by the rules of ParseWindow.
func FindWindow(name string, edge Edge) (Window, bool) {
	for _, w := range Windows {
		if w.Name == name && w.Edge == edge {
			return w, true
		}
	}
	w, err := ParseWindow(name, edge)
	return w, err == nil
}

// WindowNames lists the names of an edge's windows, for messages.
func WindowNames(edge Edge) string {
	var names []string
	for _, w := range Windows {
		if w.Edge == edge {
			names = append(names, w.Name)
		}
	}
	return strings.Join(names, ", ")
}

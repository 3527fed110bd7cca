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
	return fmt.Sprintf("%s %g %%", map[Role]string{Vds: "v", Id: "i", Vgs: "gate"}[l.Signal], l.Percent)
}

// Window is a named energy window. Each end is the first crossing after the
// gate's command, or after the start of the edge without a gate channel.
type Window struct {
	Name       string
	Edge       Edge
	Start, End Limit
	Duration   float64 // [s]; if above 0 the window ends that long after its start
	Source     string  // who uses it
}

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

// FindWindow returns the window of that name and edge.
func FindWindow(name string, edge Edge) (Window, bool) {
	for _, w := range Windows {
		if w.Name == name && w.Edge == edge {
			return w, true
		}
	}
	return Window{}, false
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

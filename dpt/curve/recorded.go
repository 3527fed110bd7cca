package curve

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"slewbook/dpt/result"
	"slewbook/waveform/unit"
)

// extent is the smallest and largest of some values, NaN left out.
type extent struct {
	lo, hi float64
	n      int
}

func (e *extent) add(x float64) {
	switch {
	case x-x != 0:
		return
	case e.n == 0:
		e.lo, e.hi = x, x
	}
	e.lo, e.hi, e.n = min(e.lo, x), max(e.hi, x), e.n+1
}

// text writes it with so many digits, "" if there is none.
func (e extent) text(base string, digits int) string {
	lo, hi := unit.Format(e.lo, base, digits), unit.Format(e.hi, base, digits)
	switch {
	case e.n == 0:
		return ""
	case lo == hi:
		return lo
	}
	return lo + " to " + hi
}

// measured reads from where to where some quantities were measured.
func measured(keys ...string) func([]*result.Shot) (string, string) {
	return func(shots []*result.Shot) (string, string) {
		var e extent
		base := ""
		for _, s := range shots {
			for _, key := range keys {
				if m := s.Quantity(key); m != nil && s.Err == nil {
					e.add(m.Value)
					base = m.Unit
				}
			}
		}
		return asMeasured(e.text(base, 4)), ""
	}
}

func asMeasured(text string) string {
	if text == "" {
		return ""
	}
	return text + " as measured"
}

// widths reads the widths of the pulses from the events.
func widths(shots []*result.Shot) (string, string) {
	return asMeasured(between(shots, result.TurnOn, result.TurnOff, 0).text("s", 3)), ""
}

// gaps reads the times between pulses.
func gaps(shots []*result.Shot) (string, string) {
	return asMeasured(between(shots, result.TurnOff, result.TurnOn, 1).text("s", 3)), ""
}

// between gathers the times from an event to another kind of it, so many pulses later,
// of one capture.
func between(shots []*result.Shot, from, to result.Edge, later int) extent {
	var e extent
	for _, s := range shots {
		for _, a := range s.Events {
			for _, b := range s.Events {
				if a.Pulse > 0 && b.Pulse == a.Pulse+later && a.Edge == from && b.Edge == to && a.Capture == b.Capture {
					e.add(b.T - a.T)
				}
			}
		}
	}
	return e
}

// channels reads a property of the channels: "12", "vds 12, id 8", and of which of them
// nothing tells it.
func channels(show func(result.Recording) string) func([]*result.Shot) (string, string) {
	return func(shots []*result.Shot) (known, missing string) {
		texts := map[result.Role][]string{}
		for _, s := range shots {
			for _, r := range s.Channels {
				if text := show(r); !slices.Contains(texts[r.Role], text) {
					texts[r.Role] = append(texts[r.Role], text)
				}
			}
		}
		var roles, lacking, parts []string
		alike := map[string]bool{}
		for _, role := range append(slices.Clone(result.Roles), result.SetupRoles()...) {
			values := texts[role]
			if len(values) == 0 {
				continue
			}
			roles = append(roles, string(role))
			if slices.Contains(values, "") {
				lacking = append(lacking, string(role))
				continue
			}
			if len(values) > 3 {
				values = append(values[:2:2], fmt.Sprintf("%d more", len(values)-2))
			}
			text := strings.Join(values, " or ")
			alike[text] = true
			parts = append(parts, string(role)+" "+text)
		}
		if len(lacking) > 0 && len(parts) > 0 {
			missing = " of " + strings.Join(lacking, ", ")
		}
		if len(alike) == 1 && len(lacking) == 0 && len(roles) > 1 {
			return strings.TrimPrefix(parts[0], roles[0]+" "), ""
		}
		return strings.Join(parts, ", "), missing
	}
}

func bandwidthOf(r result.Recording) string { return positive(r.Bandwidth, "Hz") }
func fullScaleOf(r result.Recording) string { return positive(r.Range, r.Role.Unit()) }
func rateOf(r result.Recording) string {
	return strings.Replace(positive(1/r.Dt, "Hz"), "Hz", "S/s", 1)
}

func bitsOf(r result.Recording) string {
	if r.Bits == 0 {
		return ""
	}
	return fmt.Sprint(r.Bits)
}

func lengthOf(r result.Recording) string {
	return fmt.Sprintf("%d samples (%s)", r.Points, unit.Format(float64(r.Points)*r.Dt, "s", 3))
}

func calibrationOf(r result.Recording) string {
	if r.Calibrated == "" || r.Due == "" {
		return r.Calibrated
	}
	return r.Calibrated + " (due " + r.Due + ")"
}

// positive writes a number, "" for one that is not known.
func positive(x float64, base string) string {
	if !(x > 0) || math.IsInf(x, 0) {
		return ""
	}
	factor, label := unit.Scale([]float64{x}, base)
	return fmt.Sprintf("%.5g %s", x*factor, label)
}

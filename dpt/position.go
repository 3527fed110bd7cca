package dpt

import (
	"math"
	"slices"

	"slewbook/dpt/condition"
	"slewbook/dpt/result"
	"slewbook/waveform"
)

// PartnerSuffix ends the name of a capture where its partner is the device under test.
const PartnerSuffix = ".partner"

// Position is a capture, or the part of it, in which one of the two devices of a half
// bridge is the one under test.
type Position struct {
	Capture *waveform.Capture
	Options Options
}

// exchanges are the roles that the two devices have of each other.
var exchanges = [][2]result.Role{{result.Vds, result.VOther}, {result.Id, result.IOther}, {result.Vgs, result.VgsOther}}

// forwardPart is the part of the largest current from which one that a device carries
// while it conducts has a direction.
const forwardPart = 0.1

// Positions returns a capture as each of the two devices of its half bridge sees it that
// is under test in it: that switches a load current which it carries forward. The other
// one freewheels, or is under test in another part of the record. Unless Options.Both asks
// for it, without voltage and current of both, or where neither does, the capture is
// returned as it is.
func Positions(c *waveform.Capture, opt Options) []Position {
	main := Position{c, opt}
	if !opt.Both {
		return []Position{main}
	}
	partner, ok := exchanged(c, opt)
	if !ok {
		return []Position{main}
	}
	over, here := underTest(partner)
	if !here {
		return []Position{main}
	}
	partner.Capture = cut(partner.Capture, over)
	over, here = underTest(main)
	if !here {
		return []Position{partner}
	}
	main.Capture = cut(c, over)
	return []Position{main, partner}
}

// exchanged is the capture with its partner as the device under test, of the traces that
// tell of either. What drain currents count as freewheeling ones counts the other way.
func exchanged(c *waveform.Capture, opt Options) (Position, bool) {
	sources := map[result.Role]string{}
	for role, ch := range opt.Channels {
		sources[role] = ch.Source
	}
	roles, err := assignRoles(c, sources)
	if err != nil {
		return Position{}, false
	}
	named := map[result.Role]string{}
	for _, a := range roles {
		named[a.role] = a.trace.Name
	}
	for _, need := range []result.Role{result.Vds, result.Id, result.VOther, result.IOther} {
		if named[need] == "" {
			return Position{}, false
		}
	}
	other, kept := *c, opt
	other.Name, other.Traces = c.Name+PartnerSuffix, nil
	kept.Channels, kept.Given.LSensor = map[result.Role]Channel{}, 0
	for _, pair := range exchanges {
		for k, role := range pair {
			was := pair[1-k]
			if named[was] == "" {
				continue
			}
			ch, ok := opt.Channels[was]
			if !ok {
				ch = Channel{Channel: condition.AsRead(), Bandwidth: math.NaN()}
			}
			ch.Source = named[was]
			if role.Unit() == "A" {
				ch.Invert, ch.Offset = !ch.Invert, -ch.Offset
			}
			if role != result.Id {
				ch.Droop = 0
			}
			kept.Channels[role] = ch
			other.Traces = append(other.Traces, c.Trace(ch.Source))
		}
	}
	return Position{&other, kept}, true
}

// OtherPosition returns the conditions with the position of the other device.
func OtherPosition(conditions []result.Condition) []result.Condition {
	out := slices.Clone(conditions)
	for k, c := range out {
		if c.Key != "position" {
			continue
		}
		switch c.Text {
		case "low side":
			out[k].Text = "high side"
		case "high side":
			out[k].Text = "low side"
		default:
			out[k].Text = "partner of " + c.Text
		}
		return out
	}
	return append(out, result.Condition{Key: "position", Value: math.NaN(), Text: "partner"})
}

// underTest tells whether the device under test carries a load current forward while it
// conducts, and in which part of the record: from before the first such pulse to behind
// the last, as far as it freewheels before or behind.
func underTest(p Position) (waveform.Interval, bool) {
	over := waveform.Interval{From: math.Inf(-1), To: math.Inf(1)}
	r, err := newRecord(p.Capture, p.Options, &result.Shot{})
	if err != nil || r.findEvents() != nil {
		return over, false
	}
	peak := 0.0
	for _, y := range r.i.Y {
		if a := math.Abs(y); !math.IsInf(a, 0) {
			peak = max(peak, a)
		}
	}
	first, last, freewheels := -1, -1, map[int]bool{}
	for k := range len(r.events) + 1 {
		if !r.conducts(k) {
			continue
		}
		switch y := waveform.Mean(r.i.Samples(part(r.stay(k), 0.5, 0.95))); {
		case y > forwardPart*peak:
			last = k
			if first < 0 {
				first = k
			}
		case y < -forwardPart*peak:
			freewheels[k] = true
		}
	}
	for k := range freewheels {
		switch {
		case k < first:
			over.From = r.begins(first)
		case k > last && last >= 0:
			over.To = middle(r.stay(last + 1))
		}
	}
	return over, first >= 0
}

// begins is where the part of the record begins of which stay k is the first in which the
// device carries the load forward: where its current turns in that stay, else in the
// middle of the one before.
func (r *record) begins(k int) float64 {
	turns := waveform.LastCrossing(r.i, 0, waveform.Rising, part(r.stay(k), 0, 0.5))
	if k == 0 || !math.IsNaN(turns) {
		return turns
	}
	return middle(r.stay(k - 1))
}

func middle(iv waveform.Interval) float64 { return (iv.From + iv.To) / 2 }

// cut returns the part of a capture inside iv, the capture itself where that is all of it.
func cut(c *waveform.Capture, iv waveform.Interval) *waveform.Capture {
	if math.IsInf(iv.From, -1) && math.IsInf(iv.To, 1) {
		return c
	}
	out := *c
	out.Traces = nil
	for _, tr := range c.Traces {
		out.Traces = append(out.Traces, crop(tr, iv))
	}
	return &out
}

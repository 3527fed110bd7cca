package dpt

import (
	"fmt"
	"regexp"
	"slices"
	"sort"
	"strings"

	"slewbook/dpt/result"
	"slewbook/waveform"
)

// assignment says which trace has a role, how that was decided and how sure it
// is (0 to 1).
type assignment struct {
	role  result.Role
	trace *waveform.Trace
	basis string
	sure  float64
}

// nameWords are the words by which people name channels, as whole names after
// everything but letters and digits is taken out and case is folded.
var nameWords = map[result.Role]*regexp.Regexp{
	result.Vds:      regexp.MustCompile(`^(v?(ds|ce)(v|volt|voltage|low|ls|dut)?|v(ds|ce)\d?|udsq?|uce|(drain|collector)(source|emitter)?(v|voltage))$`),
	result.Id:       regexp.MustCompile(`^(i(d|c|ds|ce|dut|drain|collector)\d?|(drain|collector)(i|current)|isw|switchcurrent)$`),
	result.Vgs:      regexp.MustCompile(`^(v?(gs|ge)(v|volt|voltage|low|ls|dut)?|v(gs|ge)\d?|ugs|uge|vgate|gate|gate(source|emitter)?(v|voltage))$`),
	result.IL:       regexp.MustCompile(`^(il|iload|loadcurrent|inductorcurrent|icoil)$`),
	result.VOther:   regexp.MustCompile(`^(vother|v(ds|ce)(high|hs|other|fwd)|vak|vka|vd(iode)?|vf(wd)?|vr)$`),
	result.VgsOther: regexp.MustCompile(`^(vgsother|v(gs|ge)(high|hs|other))$`),
	result.IOther:   regexp.MustCompile(`^(iother|i(d|c)(high|hs|other)|if(wd)?|idiode|irr)$`),
	result.Ig:       regexp.MustCompile(`^(ig|igate|gatecurrent)$`),
}

var notWord = regexp.MustCompile(`[^a-z0-9]+`)

// assignRoles gives roles to traces: as the set-up says; else by names; else by
// units and behaviour. A role that the set-up gives to a trace that is not
// there is an error.
func assignRoles(c *waveform.Capture, sources map[result.Role]string) ([]assignment, error) {
	var out []assignment
	taken := map[*waveform.Trace]bool{}
	filled := map[result.Role]bool{}
	give := func(role result.Role, tr *waveform.Trace, sure float64, format string, args ...any) {
		out = append(out, assignment{role, tr, fmt.Sprintf(format, args...), sure})
		taken[tr], filled[role] = true, true
	}
	for _, role := range append(result.SetupRoles(), result.Roles...) {
		name, ok := sources[role]
		if !ok || name == "" {
			continue
		}
		tr := c.Trace(name)
		if tr == nil {
			return nil, fmt.Errorf("channel.%s.source is %q, but the capture has no such trace; it has %s", role, name, quotedNames(c))
		}
		if taken[tr] {
			return nil, fmt.Errorf("channel.%s.source is %q, which another role has already", role, name)
		}
		give(role, tr, 1, "source %q in the set-up", name)
	}
	for _, role := range result.Roles {
		if filled[role] {
			continue
		}
		var found []*waveform.Trace
		for _, tr := range c.Traces {
			name, _, _ := strings.Cut(tr.Name, " (column ") // as the readers tell columns of one name apart
			word := notWord.ReplaceAllString(strings.ToLower(name), "")
			if !taken[tr] && nameWords[role].MatchString(word) {
				found = append(found, tr)
			}
		}
		if len(found) > 1 {
			return nil, fmt.Errorf("the traces %q and %q could both be %s; say which with channel.%s.source in a set-up file", found[0].Name, found[1].Name, role, role)
		}
		if len(found) == 0 {
			continue
		}
		switch tr := found[0]; {
		case unitFits(tr, role):
			give(role, tr, 0.98, "named %q", tr.Name)
		case role.Unit() != "A" || tr.Unit != "V": // a current sensor's volts are no contradiction
			return nil, fmt.Errorf("the trace %q is named as %s and has the unit %s; expected %s: correct the header, or say which trace it is with channel.%s.source in a set-up file", tr.Name, role, tr.Unit, role.Unit(), role)
		}
	}
	if filled[result.Branch(1)] {
		filled[result.Id] = true // the sum of the branches, unless a trace has its name
	}
	guessRoles(c, taken, filled, give)
	for _, a := range out {
		if a.trace.Unit != "" && a.trace.Unit != a.role.Unit() && (a.role.Unit() != "A" || a.trace.Unit != "V") {
			return nil, fmt.Errorf("trace %q has the unit %s, but the role %s needs %s", a.trace.Name, a.trace.Unit, a.role, a.role.Unit())
		}
	}
	return out, nil
}

func unitFits(tr *waveform.Trace, role result.Role) bool {
	return tr.Unit == "" || tr.Unit == role.Unit()
}

// guessRoles fills the main roles that are still open from what the traces do:
// two-level and large is the drain-source voltage, two-level and small against
// it the gate; in amperes, or ramping, is the current.
func guessRoles(c *waveform.Capture, taken map[*waveform.Trace]bool, filled map[result.Role]bool, give func(result.Role, *waveform.Trace, float64, string, ...any)) {
	type candidate struct {
		tr    *waveform.Trace
		swing float64
		two   float64
	}
	var volts, amps, unitless []candidate
	for _, tr := range c.Traces {
		if taken[tr] {
			continue
		}
		low, high := waveform.States(tr.Y, waveform.Shorth)
		if !(high > low) {
			continue
		}
		cand := candidate{tr, high - low, bimodal(tr, low, high)}
		switch tr.Unit {
		case "V":
			volts = append(volts, cand)
		case "A":
			amps = append(amps, cand)
		case "":
			unitless = append(unitless, cand)
		}
	}
	bySwing := func(s []candidate) { sort.SliceStable(s, func(a, b int) bool { return s[a].swing > s[b].swing }) }
	if !filled[result.Id] && len(amps) == 1 {
		give(result.Id, amps[0].tr, 0.8, "the only trace in amperes")
	}
	if !filled[result.Id] && len(amps) == 0 && len(unitless) > 0 {
		// Without units the trace that ramps is the current.
		sort.SliceStable(unitless, func(a, b int) bool { return unitless[a].two < unitless[b].two })
		if unitless[0].two < 0.6 {
			give(result.Id, unitless[0].tr, 0.5, "rests at two levels for only %.0f %% of the record, as a load current does", 100*unitless[0].two)
			unitless = unitless[1:]
		}
	}
	volts = append(volts, unitless...)
	bySwing(volts)
	// Beside a voltage that is lost, the only one that moves by no more than a gate may be the gate.
	gateAlone := len(volts) == 1 && volts[0].swing < gateSwing && lostVoltage(c)
	if !filled[result.Vds] && len(volts) > 0 && volts[0].two > 0.5 && !gateAlone {
		sure := 0.7
		if len(volts) > 1 && volts[1].swing > volts[0].swing/3 {
			sure = 0.4
		}
		give(result.Vds, volts[0].tr, sure, "switches between two levels, the largest swing (%.4g)", volts[0].swing)
		volts = volts[1:]
	}
	if !filled[result.Vgs] && filled[result.Vds] && len(volts) > 0 && volts[0].two > 0.4 && volts[0].swing < 60 {
		give(result.Vgs, volts[0].tr, 0.6, "switches between two levels %.3g apart, as a gate does", volts[0].swing)
	}
}

// lostVoltage tells whether the capture has a voltage that never moves, or an empty column.
func lostVoltage(c *waveform.Capture) bool {
	empty := slices.ContainsFunc(c.Warnings, func(w waveform.Warning) bool { return w.Code == waveform.ChannelEmpty })
	return empty || slices.ContainsFunc(c.Traces, func(tr *waveform.Trace) bool {
		ch := describe(tr)
		return tr.Unit != "A" && !(ch.Max > ch.Min)
	})
}

func quotedNames(c *waveform.Capture) string {
	names := make([]string, len(c.Traces))
	for k, tr := range c.Traces {
		names[k] = fmt.Sprintf("%q", tr.Name)
	}
	return strings.Join(names, ", ")
}

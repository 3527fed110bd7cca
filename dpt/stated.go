package dpt

import (
	"math"

	"slewbook/dpt/result"
	"slewbook/waveform"
	"slewbook/waveform/unit"
)

// How far a capture may go beyond what the set-up states before it contradicts it.
const (
	rangeTol  = 1.05 // samples against the input range
	loopGiven = 1.5  // loop inductance that is read against the one given, either way
)

// stated warns where the capture contradicts what the set-up states of a channel's range or
// of the loop. (The load has its own check, in balance.)
func (m *measurer) stated() {
	for _, role := range []result.Role{result.Vds, result.Id, result.Vgs} {
		ch, tr := m.opt.Channels[role], m.shot.Raw[role]
		if tr == nil || !(ch.Range > 0) {
			continue
		}
		seen := describe(tr)
		if span := (seen.Max - seen.Min) * math.Abs(ch.Scale); span > rangeTol*ch.Range {
			m.warn(waveform.ScaleSuspect, role, waveform.Interval{}, "the samples of %s span %s, but its whole range is stated as %s (channel.%s.range): one of the two is wrong, as with a probe factor that the one holds and the other does not; the steps of the converter in u are those of the range",
				role, unit.Format(span, role.Unit(), 3), unit.Format(ch.Range, role.Unit(), 3), role)
		}
	}
	q := m.read["l_loop"]
	for _, c := range m.opt.Conditions {
		if c.Key != "l_loop" || !(math.Abs(q.value-c.Value) > restSigma*q.u) {
			continue
		}
		if f := q.value / c.Value; f > loopGiven || f < 1/loopGiven {
			m.warn(waveform.LoopDisagrees, "", q.over, "the dip at the turn-on tells a loop of %s ± %s (k = 1), %.3g times the %s given (circuit.l_loop): another loop, one that was taken with the device's package, or a factor of id or vds",
				unit.Format(q.value, "H", 3), unit.Format(q.u, "H", 2), f, unit.Format(c.Value, "H", 3))
		}
	}
}

package dpt

import (
	"math"

	"slewbook/dpt/result"
	"slewbook/waveform"
	"slewbook/waveform/unit"
)

// Where vds is looked at for settling, behind the passage that begins a stay in which the
// device conducts.
const (
	creepPassages = 20   // passages of the edge behind it, and
	creepFrom     = 0.02 // of the stay
	creepPart     = 0.03 // of the stay, from there on
)

// onCreep returns by how much vds is off, right behind the turn-on, from where it settles
// later in that stay, if that is more than onStateTol of the bus; else level 0. The line of
// the later part has the load's ramp in it. A device whose conduction sets in slowly is
// above it, as an IGBT is, and so that is not told of one; nothing but its channel is below.
func (m *measurer) onCreep() state {
	k := m.r.longestOn()
	if k <= 0 {
		return state{}
	}
	stay := m.r.stay(k)
	late := m.r.conducting(k, m.opt.Level)
	from := stay.From + max(creepPassages*m.r.moves[k-1].Dur.Duration(), creepFrom*stay.Duration())
	early := waveform.Interval{From: from, To: from + creepPart*stay.Duration()}
	if early.To > late.From || len(m.r.v.Samples(early)) < minQuiet {
		return state{}
	}
	line := waveform.FitLine(m.r.v, late)
	off := waveform.Mean(m.r.v.Samples(early)) - line.At((early.From+early.To)/2)
	g := m.r.grain[result.Vds]
	far := ((early.From+early.To)/2 - line.T) / late.Duration()
	least := restSigma * g.sigma * math.Sqrt(g.reach*(1+12*far*far)/float64(line.N)+g.reach/float64(len(m.r.v.Samples(early))))
	least += g.stillSteps(line, far)
	if !(math.Abs(off) > max(onStateTol*m.r.vHigh, least)) || off > 0 && m.opt.Device == IGBT {
		return state{}
	}
	return state{level: off, over: early}
}

// tellCreep warns of it.
func (m *measurer) tellCreep() {
	if y := m.creep.level; y != 0 {
		m.warn(waveform.SlowSettling, result.Vds, m.creep.over, "vds is %s off where it settles later in the on-state: a probe whose compensation is off, or that recovers from overload, is the first suspect, and then peaks, levels and durations behind every edge are off by as much",
			unit.Format(y, "V", 3))
	}
}

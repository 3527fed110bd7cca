package dpt

import (
	"math"

	"slewbook/dpt/result"
	"slewbook/waveform"
	"slewbook/waveform/unit"
)

// apart is how far v and i pass their middles from each other.
type apart struct {
	behind float64 // i behind v, where that is more than a lag between the channels leaves for an explanation [s]; else 0
	at     *edge   // where
	most   float64 // the largest lag that the edges leave room for [s], NaN if they bound none
}

// middlesApart looks for a lag that shows at the edges. At a turn-off i falls while v rises
// or right behind it, so that their middles are apart by no more than both take from 10 to
// 90 %. At a turn-on v may fall behind i by what the freewheeling device takes to recover,
// but not before it. (Hard switching of an inductive load: common practice, no source.)
func (m *measurer) middlesApart() apart {
	found := apart{most: math.NaN()}
	for _, e := range []*edge{m.off, m.on} {
		if e == nil || e.noLoad(m.full) != nil {
			continue
		}
		tv, wv := e.crossing(v(50))
		ti, wi := e.crossing(i(50))
		if wv != nil || wi != nil {
			continue
		}
		behind, last := ti-tv, e.lasts(v(10), v(90))+e.lasts(i(10), i(90))+2*(e.v.Dt+e.i.Dt)
		off := e.kind == result.TurnOff
		if found.at == nil && (behind > last || off && -behind > last) {
			found.behind, found.at = behind, e
		}
		if most := math.Abs(behind) + last; off && !(most >= found.most) {
			found.most = most
		}
	}
	return found
}

// lasts is the time between two limits of an edge, in whichever order it passes them.
func (e *edge) lasts(a, b result.Limit) float64 {
	from, _ := e.crossing(a)
	to, _ := e.crossing(b)
	return math.Abs(to - from)
}

// tellApart warns of a lag that shows at an edge, unless the shot has told the delay.
func (m *measurer) tellApart() {
	if m.apart.behind == 0 || m.delays.current.sure {
		return
	}
	m.warn(waveform.DelaySuspect, result.Id, m.apart.at.search, "at the %s id passes its middle %s %s vds, more than both edges last: one of the channels lags. All that depends on the delay is uncertain by as much; look at channel.id.delay and channel.vds.delay",
		m.apart.at.kind, unit.Format(math.Abs(m.apart.behind), "s", 3), map[bool]string{true: "behind", false: "before"}[m.apart.behind > 0])
	for _, key := range []string{"e_off", "e_on"} {
		m.warnOf(key, waveform.Warning{Code: waveform.DelaySuspect, Channel: string(result.Id), Over: m.read[key].over, Text: "a lag between vds and id shows in this shot and is left in"})
	}
}

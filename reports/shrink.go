package reports

import (
	"math"
	"strings"

	"slewbook/dpt/result"
	"slewbook/waveform/unit"
)

// remedies tell what makes an input better known, by the words that its name begins
// with; of an assumed one what states it.
var remedies = []struct{ input, known, assumed string }{
	{"gain of ", "calibrate that channel's gain", "state channel.ROLE.gain_u or accuracy, from its calibration"},
	{"reference ", "calibrate against a better reference", "state gain_u or accuracy of the channels"},
	{"drift of ", "calibrate that channel again", "state conditions.date, so that its age counts and not the whole interval"},
	{"zero of id_", "a smaller range, or the zero read with the probe shorted", "state channel.id_ROLE.offset_u or accuracy"},
	{"zero of id", "record a longer quiet stretch before the first pulse", "state channel.id.offset_u or accuracy, or have the zero read off (baseline.zero)"},
	{"zero of ", "a smaller range, or the zero read with the probe shorted", "state channel.ROLE.offset_u or accuracy"},
	{"delay of id_", "record that channel and vds on one edge", "record that channel and vds on one edge, stated as channel.id_ROLE.delay and delay_u"},
	{"delay of id", "a lag that is seen and left in can be taken out (--align apply); else a calibration capture (slewbook align --calibration)", "a calibration capture (slewbook align --calibration), stated as channel.id.delay"},
	{"delay between the gates", "record both gates' channels on one edge", "record both gates' channels on one edge, stated as channel.vgs_other.delay and delay_u of both"},
	{"delay of ", "record that channel and vds on one edge", "record that channel and vds on one edge, stated as channel.ROLE.delay and delay_u"},
	{"residual of the fit", "less noise, a longer ringing before the next edge", ""},
	{"change over the ringing", "a ringing of smaller swing, over which the capacitances change less", ""},
	{"parts of the ringing", "a ringing of smaller swing, over which the capacitances change less", ""},
	{"losses of the loop", "a loop that is damped less", ""},
	{"form of the roll-off", "a channel of more bandwidth, or a calibration capture (slewbook align --calibration)", ""},
	{"droop of id", "a sensor of lower corner, or its droop stated as channel.id.droop, which takes it out", ""},
	{"what the loop's equation", "a slower turn-on, in which the loop's own voltages are small", ""},
	{"noise", "more bits or a smaller range, less noise, or the mean of repeated shots (slewbook repeat)", ""},
	{"choice of crossing", "less noise, a zero known better, or a definition whose level the signal does not graze", ""},
	{"sampling", "sample faster", ""},
	{"bandwidth", "a channel of more bandwidth", "state channel.ROLE.bandwidth"},
	{"level of the bus", "a longer stretch at rest, less sag and ringing", ""},
	{"load current", "a longer ramp before the edge, less ringing on it", ""},
	{"capacitance", "", "measure the capacitance"},
	{"output capacitance", "", "measure the capacitance"},
}

// shrink tells what would make the uncertainty smaller, and by how much at most.
func (p *textTable) shrink(m *result.Measurement) {
	if len(m.Budget) == 0 || !(m.U > 0) {
		return
	}
	c := m.Budget[0]
	left := math.Sqrt(max(m.U*m.U-c.Effect*c.Effect, 0))
	p.line("what would shrink it most: %s; with half of that line it is %s, without it %s", remedy(c),
		unit.Format(math.Hypot(left, c.Effect/2), m.Unit, 3), unit.Format(left, m.Unit, 3))
}

func remedy(c result.Contribution) string {
	for _, r := range remedies {
		rest, ok := strings.CutPrefix(c.Source, r.input)
		if !ok {
			continue
		}
		text := r.known
		if c.Basis == "assumed" && r.assumed != "" || text == "" {
			text = r.assumed
		}
		if rest == "" {
			rest = "ROLE"
		}
		return strings.ReplaceAll(text, "ROLE", rest)
	}
	return "know " + c.Source + " better"
}

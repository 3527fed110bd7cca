package dpt

import (
	"fmt"
	"math"

	"slewbook/dpt/result"
	"slewbook/waveform/unit"
)

// Budget lines of the bandwidths: of what was left in, and of what is left when it was
// taken out.
const (
	bandwidthSource = "bandwidth"
	correctedSource = "bandwidth, after its correction"
)

const (
	// correctionDoubt is the part of the whole line that is left after a correction. What a
	// channel does to a smooth edge goes with the variance of its impulse response, which
	// at one -3 dB bandwidth is none for a maximally flat roll-off and 1.44 times the
	// Gaussian's for a single pole, (1/2πB)²/(√(ln 2)/2πB)² (derived).
	correctionDoubt = 0.5
	// mostCorrected is the part of a value above which it is not corrected: what is left
	// would be made by the correction.
	mostCorrected = 0.2
	// aboveNoise is how many times what noise explains a change must be to be a correction.
	aboveNoise = 2
)

// correctBandwidth names the line of a reading's budget for the bandwidths, and returns
// its size. Where a correction is asked for and can be told, it is taken off the value: as
// much as slowing by as much again adds, since the change goes with the variance.
func (m *measurer) correctBandwidth(e *edge, q *reading, by smearing) (source string, u float64) {
	whole := max(m.bandwidthOf(e, *q), by.effect)
	if !m.opt.CorrectBandwidth || !e.correctable(*q) || !(math.Abs(by.change) > aboveNoise*by.noise) ||
		!(math.Abs(by.change) < mostCorrected*math.Abs(q.value)) {
		return bandwidthSource, whole
	}
	q.corrected = -by.change
	q.value -= by.change
	return correctedSource, correctionDoubt * whole
}

// correctable tells whether a reading is one that slowing once more can correct: a
// duration, or a slope, of channels whose bandwidth is stated. Peaks and energies are not,
// since noise and what lies between the samples change them as much. A gate is not slowed
// with the others, so that what ends on it is left as it is.
func (e *edge) correctable(q reading) bool {
	var from []result.Role
	switch q.form {
	case timeForm, slopeForm:
		for _, end := range q.ends {
			from = append(from, end.Signal)
		}
	case fitForm:
		from = []result.Role{q.role}
	}
	for _, role := range from {
		if role == result.Vgs || role == result.VgsOther || !(e.bandwidth[role] > 0) {
			return false
		}
	}
	return len(from) > 0
}

// tellCorrected adds to the corrections of the shot that the bandwidths were taken out.
func (m *measurer) tellCorrected() {
	if !m.opt.CorrectBandwidth {
		return
	}
	for _, role := range []result.Role{result.Vds, result.Id} {
		bw := m.r.bandwidth[role]
		m.shot.Corrections = append(m.shot.Corrections, result.Correction{Channel: role, Kind: bandwidthSource, Value: bw, Unit: "Hz", EOn: math.NaN(), EOff: math.NaN(),
			Text: fmt.Sprintf("what %s add to durations and take off slopes is taken out, where slowing once more by as much shows it above the noise; peaks and energies stay as they were read", unit.Format(bw, "Hz", 4))})
	}
}

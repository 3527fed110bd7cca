package dpt

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"slewbook/dpt/result"
)

// sweepSteps is how many steps a sweep has on each side.
const sweepSteps = 5

// sweepLevels are the percentages that an end of an energy window is moved to.
var sweepLevels = []float64{1, 2, 3, 5, 7.5, 10, 15, 20}

// sweep reads the edge again with the current delayed more and less, and energies
// with other levels at the ends of their windows: how much depends on a choice
// that somebody else might make otherwise.
func (m *measurer) sweep(e *edge) {
	near := e.near(m.read)
	var lag source
	for _, s := range e.inputs {
		if s.name == delaySource {
			lag = s
		}
	}
	lags := result.Sweep{Input: "more lag of id", Unit: "s", Seen: math.NaN()}
	reach := max(2*lag.u, 1e-9)
	if m.delays.current.sure {
		lags.Seen = -m.delays.left()
		reach = max(reach, 1.2*math.Abs(lags.Seen))
	}
	var read []map[string]reading
	for k := -sweepSteps; k <= sweepSteps; k++ {
		x := reach * float64(k) / sweepSteps
		moved := near.copy()
		lag.move(moved, x)
		lags.X = append(lags.X, x)
		read = append(read, m.readEdge(moved))
	}
	for key := range read[0] {
		q, ok := m.read[key]
		if !ok || math.IsNaN(q.value) {
			continue
		}
		s := lags
		for _, r := range read {
			s.Y = append(s.Y, r[key].value)
		}
		q.sweeps = append(slices.Clip(q.sweeps), s)
		if column, _, _ := strings.Cut(key, "."); column == energyKey(e.kind) {
			q.sweeps = append(q.sweeps, e.levelSweeps(q.def)...)
		}
		m.read[key] = q
	}
}

// levelSweeps reads the energy in windows that differ in the level of one end.
func (e *edge) levelSweeps(name string) []result.Sweep {
	w, ok := result.FindWindow(name, e.kind)
	if !ok {
		return nil
	}
	var sweeps []result.Sweep
	add := func(what string, l *result.Limit) {
		if l.Signal == result.Vgs || l.Percent > sweepLevels[len(sweepLevels)-1] {
			return
		}
		s := result.Sweep{Input: fmt.Sprintf("%s of the window, level of %s", what, map[result.Role]string{result.Vds: "v", result.Id: "i"}[l.Signal]), Unit: "1", At: l.Percent / 100, Seen: math.NaN()}
		levels := append([]float64{l.Percent}, sweepLevels...)
		slices.Sort(levels)
		for _, p := range slices.Compact(levels) {
			l.Percent = p
			s.X, s.Y = append(s.X, p/100), append(s.Y, e.energy(w).value)
		}
		l.Percent = 100 * s.At
		sweeps = append(sweeps, s)
	}
	if w.Duration <= 0 {
		add("end", &w.End)
	}
	add("start", &w.Start)
	return sweeps
}

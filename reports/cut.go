package reports

import (
	"fmt"
	"math"
	"sort"
	"strings"

	"gonum.org/v1/plot/plotter"

	"slewbook/dpt/result"
	"slewbook/waveform"
)

// Cut is the neighbourhood of one edge of a shot, aligned and decimated: all
// that an overlay needs, so that a run need not keep whole records.
type Cut struct {
	Capture string
	Edge    result.Edge

	values  [conditionKinds]float64 // NaN where not known
	others  string                  // all further conditions
	igbt    bool
	codes   []string                   // of the shot's warnings
	missing string                     // why there are no curves, "" if there are
	view    waveform.Interval          // what to show [s after the alignment]
	curves  map[result.Role][]cutCurve // [s after the alignment], SI units
}

// cutCurve is an unbroken line. Float32 has far more digits than a screen.
type cutCurve struct{ t, y []float32 }

// The conditions that overlays vary.
const (
	busKind = iota
	currentKind
	rgKind
	temperatureKind
	conditionKinds
)

// A cut reaches a few times the view of its edge both ways, since other shots of
// the same overlay may be slower; there it is coarser.
const (
	cutColumns   = 500 // that the view is decimated to
	cutReach     = 5   // in views
	reachColumns = 200 // that each side is decimated to
)

// Cuts returns the neighbourhoods of the first turn-off and the first turn-on
// of a measured shot that still has its traces.
func Cuts(s *result.Shot) []Cut {
	if s.Err != nil {
		return nil
	}
	return each(shownEdges(s), func(e *result.EdgeMarks) Cut { return cutEdge(s, e) })
}

func cutEdge(s *result.Shot, e *result.EdgeMarks) Cut {
	c := Cut{Capture: s.Capture, Edge: e.Edge, igbt: s.IGBT(), codes: strings.Fields(codes(shownWarnings(s)))}
	c.setConditions(s, e)
	v, i := s.Traces[result.Vds], s.Traces[result.Id]
	if v == nil || i == nil {
		c.missing = "it has no " + ifElse(v == nil, "vds", "id") + " trace"
		return c
	}
	span := wholeSpan(s)
	view := edgeView(e, span)
	zero := waveform.FirstCrossing(v, e.Bus/2, waveform.Rising, view)
	if e.Edge == result.TurnOn {
		zero = waveform.FirstCrossing(i, e.Load/2, waveform.Rising, view)
	}
	if math.IsNaN(zero) {
		c.missing = ifElse(e.Edge == result.TurnOn, "i does not pass half the load current", "v does not pass half the bus")
		return c
	}
	c.view = waveform.Interval{From: view.From - zero, To: view.To - zero}
	reach := cutReach * view.Duration()
	c.curves = map[result.Role][]cutCurve{}
	for _, role := range shownRoles(s) {
		tr := s.Traces[role]
		lines := decimate(tr, waveform.Interval{From: max(view.From-reach, span.From), To: view.From}, reachColumns)
		lines = append(lines, decimate(tr, view, cutColumns)...)
		lines = append(lines, decimate(tr, waveform.Interval{From: view.To, To: min(view.To+reach, span.To)}, reachColumns)...)
		c.curves[role] = each(joined(lines), func(line plotter.XYs) cutCurve { return compact(line, zero) })
	}
	return c
}

// joined connects lines that overlap, as those of neighbouring intervals do.
func joined(lines []plotter.XYs) []plotter.XYs {
	var out []plotter.XYs
	for _, line := range lines {
		if n := len(out); n > 0 && line[0].X <= out[n-1][len(out[n-1])-1].X {
			last := out[n-1][len(out[n-1])-1].X
			for len(line) > 0 && line[0].X <= last {
				line = line[1:]
			}
			out[n-1] = append(out[n-1], line...)
			continue
		}
		out = append(out, line)
	}
	return out
}

func compact(line plotter.XYs, zero float64) cutCurve {
	out := cutCurve{make([]float32, len(line)), make([]float32, len(line))}
	for k, pt := range line {
		out.t[k], out.y[k] = float32(pt.X-zero), float32(pt.Y)
	}
	return out
}

// inside returns the pieces of curves inside iv, each with a point more on each
// side.
func inside(curves []cutCurve, iv waveform.Interval) []plotter.XYs {
	var out []plotter.XYs
	for _, c := range curves {
		lo := sort.Search(len(c.t), func(k int) bool { return float64(c.t[k]) >= iv.From })
		hi := sort.Search(len(c.t), func(k int) bool { return float64(c.t[k]) > iv.To })
		if lo == hi {
			continue
		}
		lo, hi = max(lo-1, 0), min(hi+1, len(c.t))
		line := make(plotter.XYs, hi-lo)
		for k := range line {
			line[k] = plotter.XY{X: float64(c.t[lo+k]), Y: float64(c.y[lo+k])}
		}
		out = append(out, line)
	}
	return out
}

// agreement is how far a planned bus or current may be from the measured one
// and still name it. Further off, one record of conditions was given for
// several of them.
const agreement = 0.1

// setConditions takes the conditions of the edge: as planned where that is
// given, else as measured.
func (c *Cut) setConditions(s *result.Shot, e *result.EdgeMarks) {
	given := map[string]float64{}
	var others []string
	for _, cond := range s.Conditions {
		switch cond.Key {
		case "v_bus", "i_load", "rg_on", "rg_off", "tj":
			given[cond.Key] = cond.Value
		default:
			others = append(others, conditionNote(cond))
		}
	}
	look := func(key string) float64 {
		if x, ok := given[key]; ok {
			return x
		}
		return math.NaN()
	}
	plannedOr := func(key string, measured float64) float64 {
		if x := look(key); math.Abs(x-measured) <= agreement*math.Abs(measured) || math.IsNaN(measured) {
			return x
		}
		return measured
	}
	rg := ifElse(e.Edge == result.TurnOn, "rg_on", "rg_off")
	c.values = [conditionKinds]float64{plannedOr("v_bus", e.Bus), plannedOr("i_load", e.Load), look(rg), look("tj")}
	c.others = strings.Join(others, "; ")
}

// celsius is 0 °C in kelvin (BIPM, SI Brochure).
const celsius = 273.15

// trimmed writes x with at most so many decimals.
func trimmed(x float64, decimals int) string {
	txt := decimal(x, decimals)
	if strings.Contains(txt, ".") {
		txt = strings.TrimRight(strings.TrimRight(txt, "0"), ".")
	}
	return txt
}

// conditionLabel writes one condition of a cut.
func (c *Cut) conditionLabel(kind int) string {
	x := c.values[kind]
	names := [conditionKinds]string{"V", "I", "R_" + ifElse(c.Edge == result.TurnOn, "G,on", "G,off"), "T_j"}
	if math.IsNaN(x) {
		return names[kind] + " not known"
	}
	unit := [conditionKinds]string{"V", "A", "Ω", "°C"}[kind]
	if kind == temperatureKind {
		x -= celsius
	}
	return minus(fmt.Sprintf("%s = %s %s", names[kind], trimmed(x, max(0, 2-exponent(x, 3))), unit))
}

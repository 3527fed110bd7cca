package reports

import (
	"fmt"
	"math"
	"strings"

	"gonum.org/v1/plot/plotter"

	"slewbook/dpt/result"
	"slewbook/waveform"
)

// Locus says how the switching locus is drawn, and with which limits beside it.
type Locus struct {
	Log     bool // both axes
	Ratings result.Ratings
}

// locusDepth is how far below the largest voltage and current logarithmic axes
// reach: a factor of 300, below which probes show their zero and their noise.
const locusDepth = 300

// DrawLocus lays out the current against the voltage of both edges of a measured
// shot that still has its traces, with dots at even steps of time and the limits
// that are given. It returns nil where there is no edge to draw.
func DrawLocus(s *result.Shot, locus Locus, style Style) (*Figure, error) {
	if err := style.Validate(); err != nil {
		return nil, err
	}
	v, i := s.Traces[result.Vds], s.Traces[result.Id]
	edges := shownEdges(s)
	if s.Err != nil || v == nil || i == nil || len(edges) == 0 {
		return nil, nil
	}
	f := newFigure(style, "")
	f.height = min(f.height, 0.7*f.width+140) // notes take as much of a narrow page
	f.provenance = provenance(s)
	p := &panel{Name: "locus", Unit: "A", XBase: "V", TimeAxis: true, Log: locus.Log}
	var legend []legendEntry
	for _, e := range edges {
		name, own := edgeTitle(e), locusPen(e.Edge)
		view := edgeView(e, wholeSpan(s))
		p.Curves = append(p.Curves, curve{name, own, locusLines(v, i, view)})
		step := dotStep(view.Duration())
		for t := e.T + step*math.Ceil((view.From-e.T)/step); t < view.To; t += step {
			if x, y := v.At(t), i.At(t); x-x == 0 && y-y == 0 {
				p.Dots = append(p.Dots, dot{X: x, Y: y, U: math.NaN(), UX: math.NaN(), Pen: own, Label: timeLabel(t - e.T), Small: true})
			}
		}
		if x, y := v.At(e.T), i.At(e.T); x-x == 0 && y-y == 0 {
			p.Marks = append(p.Marks, mark{T: x, Y: y, Pen: own, Label: strings.ToLower(edgeName(e.Edge)) + ", 0"})
		}
		legend = append(legend, legendEntry{Pen: own, Text: name + ", a dot every " + timeLabel(step)})
	}
	p.limits(locus.Ratings)
	p.locusAxes(s.IGBT())
	width := f.width - 2*f.style.length(f.style.Margin)
	head := f.headings(10, plain, printable(s.Capture, false), width)
	head = append(head, f.headings(7.5, subs, "Switching locus: "+roleSymbol(result.Id, s.IGBT())+" against "+roleSymbol(result.Vds, s.IGBT())+" at the sense points", width)...)
	f.fill(sheet{head: withGap(head, titleGap), columns: []column{{panels: []*panel{p}}}, legend: legend, notes: locusNotes(s, p)})
	return f, nil
}

func locusNotes(s *result.Shot, p *panel) []string {
	out := []string{"Time 0: v passes half the bus. The current at the sense points holds that of the device's own capacitances; it is not the channel's."}
	if p.Log {
		out = append(out, fmt.Sprintf("Not shown: what lies below 1/%d of the axes, and below zero.", locusDepth))
	}
	if p.Given {
		out = append(out, "Limits are as the set-up gives them. Nothing here says that an operation or a set-up is safe.")
	}
	return append(out, notes(s, Style{Brief: true})[0])
}

func locusPen(edge result.Edge) pen {
	if edge == result.TurnOff {
		return voltagePen()
	}
	p := currentPen()
	p.Dash = overlayPen(1, 2).Dash
	return p
}

func timeLabel(t float64) string {
	size, label := scaleFor([]float64{t}, "s")
	return minus(trimmed(t/size, 3)) + " " + label
}

// dotStep is the step of the dots, so that there are some fifteen of them.
func dotStep(duration float64) float64 {
	step, _ := TickStep(duration / 15 * 1e9)
	return step * 1e-9
}

// locusLines returns i against v over a stretch, without the points that lie within
// a thousandth of the axes of the one before.
func locusLines(v, i *waveform.Trace, view waveform.Interval) []plotter.XYs {
	lo, hi := v.Indices(view)
	peakV, peakI := 0.0, 0.0
	for k := lo; k < hi; k++ {
		if x, y := math.Abs(v.Y[k]), math.Abs(i.At(v.Time(k))); x-x == 0 && y-y == 0 {
			peakV, peakI = max(peakV, x), max(peakI, y)
		}
	}
	var lines []plotter.XYs
	var line plotter.XYs
	for k := lo; k < hi; k++ {
		pt := plotter.XY{X: v.Y[k], Y: i.At(v.Time(k))}
		if pt.X-pt.X != 0 || pt.Y-pt.Y != 0 {
			lines, line = append(lines, line), nil
			continue
		}
		if n := len(line); n > 0 && math.Hypot((pt.X-line[n-1].X)/peakV, (pt.Y-line[n-1].Y)/peakI) < 1e-3 {
			continue
		}
		line = append(line, pt)
	}
	return append(lines, line)
}

// limits adds the ratings that are given.
func (p *panel) limits(r result.Ratings) {
	given := basePen()
	if r.IMax > 0 {
		p.Levels = append(p.Levels, level{Y: r.IMax, Name: "rated current", Pen: given, Label: "rated current " + valueText(r.IMax, math.NaN(), "A", false)})
	}
	if r.VMax > 0 {
		p.Events = append(p.Events, event{T: r.VMax})
		_, top := p.yRange()
		p.Marks = append(p.Marks, mark{T: r.VMax, Y: top / 4, Bare: true, Label: "rated voltage " + valueText(r.VMax, math.NaN(), "V", false)})
	}
	if n := len(r.RBSOA); n > 0 {
		line := plotter.XYs{{X: 0, Y: r.RBSOA[0].I}}
		for _, c := range r.RBSOA {
			line = append(line, plotter.XY{X: c.V, Y: c.I})
		}
		line = append(line, plotter.XY{X: r.RBSOA[n-1].V, Y: 0})
		p.Curves = append(p.Curves, curve{"RBSOA, as given", pen{Color: ink(), Width: 0.9, Dash: given.Dash}, []plotter.XYs{line}})
		p.Marks = append(p.Marks, mark{T: r.RBSOA[0].V, Y: r.RBSOA[0].I, Label: "RBSOA, as given", Bare: true})
	}
	p.Given = r.IMax > 0 || r.VMax > 0 || len(r.RBSOA) > 0
}

// locusAxes sets both axes to hold all that is drawn.
func (p *panel) locusAxes(igbt bool) {
	lo, hi := 0.0, 0.0
	for _, c := range p.Curves {
		for _, line := range c.Lines {
			for _, pt := range line {
				lo, hi = min(lo, pt.X), max(hi, pt.X)
			}
		}
	}
	for _, e := range p.Events {
		hi = max(hi, e.T)
	}
	room := 0.05 * (hi - lo)
	p.X = waveform.Interval{From: lo - room, To: hi + room}
	if p.Log {
		p.X = waveform.Interval{From: hi / locusDepth, To: hi * 1.2}
		p.cutBelow()
	}
	p.XUnit, p.XLabel = 1, roleSymbol(result.Vds, igbt)+" [V]"
	p.valueAxis(roleSymbol(result.Id, igbt), "A")
}

// cutBelow takes out what logarithmic axes cannot show.
func (p *panel) cutBelow() {
	_, top := p.yRange()
	p.Floor = top / locusDepth
	var dots []dot
	for _, d := range p.Dots {
		if d.X > p.X.From && d.Y > p.Floor {
			dots = append(dots, d)
		}
	}
	p.Dots = dots
	for k, c := range p.Curves {
		var lines []plotter.XYs
		for _, whole := range c.Lines {
			var line plotter.XYs
			for _, pt := range whole {
				if strings.HasPrefix(c.Name, "RBSOA") {
					pt.X, pt.Y = max(pt.X, p.X.From), max(pt.Y, p.Floor)
				}
				if pt.X < p.X.From || pt.Y < p.Floor {
					lines, line = append(lines, line), nil
					continue
				}
				line = append(line, pt)
			}
			lines = append(lines, line)
		}
		p.Curves[k].Lines = lines
	}
}

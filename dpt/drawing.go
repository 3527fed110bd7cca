package dpt

import (
	"math"

	"slewbook/dpt/result"
	"slewbook/waveform"
)

// drawing tells how a reading was read off, where the options ask for it.
func (m *measurer) drawing(key string, q reading) *result.Drawing {
	if !m.opt.Drawings {
		return nil
	}
	d := &result.Drawing{Sweeps: q.sweeps}
	c, _ := result.FindColumn(key)
	e := map[result.Edge]*edge{result.TurnOff: m.off, result.TurnOn: m.on}[c.Edge]
	switch {
	case math.IsNaN(q.over.From): // nothing was found
	case q.form == extremeForm:
		d.Marks = []result.Mark{{Role: q.role, Label: "peak", T: q.over.From, Y: m.r.trace(q.role).At(q.over.From)}}
	case q.form == fitForm && q.draw == nil:
		d.Lines = []result.Construction{tangent(e, q)}
	case q.form == levelForm && q.draw == nil:
		d.Lines = []result.Construction{{Role: levelRole(c), Trace: straight("level", q.over, q.value, q.value)}}
	case len(q.ends) == 2 && e != nil:
		d.Marks = e.endMarks(q)
		if q.form == slopeForm && len(d.Marks) == 2 {
			d.Lines = []result.Construction{e.secant(q)}
		}
	}
	if q.draw != nil && !math.IsNaN(q.value) {
		q.draw(d)
	}
	return d
}

func levelRole(c result.Column) result.Role {
	if c.Key == "vgs_high" || c.Key == "vgs_low" {
		return result.Vgs
	}
	return result.Vds
}

// endMarks marks the limits that a reading lies between. The end of an energy
// window with a rule of its own is marked by the shading alone.
func (e *edge) endMarks(q reading) []result.Mark {
	var marks []result.Mark
	for k, t := range []float64{q.over.From, q.over.To} {
		l := q.ends[k]
		tr, _ := e.trace(l.Signal)
		if l.Percent == 0 || tr == nil || math.IsNaN(t) {
			continue
		}
		y := tr.At(t)
		if k == 1 && !(math.Abs(y-e.level(l)) < 1e-6*math.Abs(e.level(l))) {
			continue
		}
		marks = append(marks, result.Mark{Role: l.Signal, Label: l.String(), T: t, Y: y})
	}
	return marks
}

// straight is the straight line between two values at the ends of iv.
func straight(name string, iv waveform.Interval, from, to float64) *waveform.Trace {
	return &waveform.Trace{Name: name, T0: iv.From, Dt: iv.Duration(), Y: []float64{from, to}}
}

// sampled is a function of time over iv in n steps.
func sampled(name string, iv waveform.Interval, n int, y func(t float64) float64) *waveform.Trace {
	tr := &waveform.Trace{Name: name, T0: iv.From, Dt: iv.Duration() / float64(n), Y: make([]float64, n+1)}
	for k := range tr.Y {
		tr.Y[k] = y(tr.Time(k))
	}
	return tr
}

// less is a trace on iv less what is taken off.
func less(name string, tr *waveform.Trace, iv waveform.Interval, off func(t float64) float64) *waveform.Trace {
	lo, hi := tr.Indices(iv)
	lo, hi = max(lo-1, 0), min(hi+1, tr.Len())
	out := &waveform.Trace{Name: name, Unit: tr.Unit, T0: tr.Time(lo), Dt: tr.Dt, Y: make([]float64, hi-lo)}
	for k := range out.Y {
		out.Y[k] = tr.Y[lo+k] - off(out.Time(k))
	}
	return out
}

// extended is a straight line drawn on by a part of its length on both sides.
func extended(name string, iv waveform.Interval, from, to, part float64) *waveform.Trace {
	d, y := part*iv.Duration(), part*(to-from)
	return straight(name, waveform.Interval{From: iv.From - d, To: iv.To + d}, from-y, to+y)
}

// secant is the line of an average slope, on the signal that it ends with.
func (e *edge) secant(q reading) result.Construction {
	role := q.ends[1].Signal
	tr, _ := e.trace(role)
	return result.Construction{Role: role, Trace: extended("average slope", q.over, tr.At(q.over.From), tr.At(q.over.To), 0.3)}
}

// tangent is the line of a steepest slope.
func tangent(e *edge, q reading) result.Construction {
	tr, _ := e.trace(q.role)
	l := waveform.FitLine(tr, waveform.Interval{From: q.over.From - tr.Dt/4, To: q.over.To + tr.Dt/4})
	return result.Construction{Role: q.role, Trace: extended("steepest fit", q.over, l.At(q.over.From), l.At(q.over.To), 2)}
}

package dpt

import (
	"fmt"
	"math"

	"slewbook/dpt/result"
	"slewbook/waveform"
)

// Calibration says what a calibration capture shows.
type Calibration string

// Kinds of calibration captures.
const (
	SameEdge Calibration = "same-edge" // both channels on one and the same edge
	Resistor Calibration = "resistor"  // a resistive load: i rises as v falls
)

// edgeReach is how much of the record around the edge is compared, in 10-90 %
// transition durations to either side.
const edgeReach = 4

// Calibrate finds the lag of the current channel behind the voltage channel from
// a capture in which both follow one common edge. Both are scaled to their two
// states; the lag is where their squared difference around each edge of v is
// least, with cubic interpolation between the samples. How far that is from the
// distance of their half-way crossings goes into the uncertainty: for channels
// of one shape the two agree.
func Calibrate(c *waveform.Capture, opt Options, kind Calibration) result.Alignment {
	a := result.Alignment{Capture: c.Name}
	shot := &result.Shot{}
	r, err := newRecord(c, opt, shot)
	if err != nil {
		a.Err = err
		return a
	}
	moves, err := r.calibrationEdges()
	if err != nil {
		a.Err = err
		return a
	}
	var lags []result.Measurement
	for _, m := range moves {
		if q, ok := r.commonEdge(m, kind); ok {
			lags = append(lags, q)
		}
	}
	given := opt.Channels[result.Id].Delay - opt.Channels[result.Vds].Delay
	a.Current, _ = combine("delay_id", "s", lags)
	a.Current.Value += given
	a.Current.Delay.Applied = given
	a.Current.Definition = fmt.Sprintf("%s, %d edge(s)", kind, len(lags))
	if len(lags) == 0 {
		a.Err = fmt.Errorf("id (trace %q) has no edge with those of vds (trace %q) that goes the %s way", r.i.Name, r.v.Name, kind.way())
	}
	a.Gate, _ = combine("delay_vgs", "s", nil)
	a.Loop, _ = combine("l_loop", "H", nil)
	return a
}

// way is the direction of the current's edge, for messages.
func (k Calibration) way() string {
	if k == Resistor {
		return "opposite"
	}
	return "same"
}

// Validate tells whether the kind is known.
func (k Calibration) Validate() error {
	if k != SameEdge && k != Resistor {
		return fmt.Errorf("calibration %q is not known; expected %q or %q", k, SameEdge, Resistor)
	}
	return nil
}

// calibrationEdges finds the edges of v.
func (r *record) calibrationEdges() ([]waveform.Transition, error) {
	r.vLow, r.vHigh = waveform.States(r.v.Y, waveform.Shorth)
	if !(r.vHigh-r.vLow > 10*pointNoise(r.v.Y)) {
		return nil, fmt.Errorf("vds (trace %q) shows no edge above its noise", r.v.Name)
	}
	return passages(r.v, r.vLow, r.vHigh)
}

// commonEdge finds the lag at one edge of v.
func (r *record) commonEdge(m waveform.Transition, kind Calibration) (result.Measurement, bool) {
	q := result.Measurement{Key: "delay_id", Unit: "s"}
	low, high := waveform.States(r.i.Y, waveform.Shorth)
	dir := m.Dir
	if kind == Resistor {
		low, high, dir = high, low, -dir
	}
	rise := max(1.6*m.Dur.Duration(), 3*r.v.Dt) // from 25-75 % to about 10-90 %
	q.Over = waveform.Interval{From: m.T - edgeReach*rise, To: m.T + edgeReach*rise}
	half := func(tr *waveform.Trace, dir waveform.Slope, level float64) float64 {
		return waveform.FirstCrossing(tr, level, dir, waveform.Interval{From: q.Over.From - delayMax, To: q.Over.To + delayMax})
	}
	cross := half(r.i, dir, (low+high)/2) - half(r.v, m.Dir, (r.vLow+r.vHigh)/2)
	if math.IsNaN(cross) {
		return q, false
	}
	lo, hi := r.v.Indices(q.Over)
	diff := func(d float64) (sum, n float64) {
		for k := lo; k < hi; k++ {
			x := (r.v.Y[k] - r.vLow) / (r.vHigh - r.vLow)
			y := (cubic(r.i, r.v.Time(k)+d) - low) / (high - low)
			if e := x - y; e-e == 0 {
				sum += e * e
				n++
			}
		}
		return sum, n
	}
	best := refine(func(d float64) loopFit {
		sum, n := diff(d)
		return loopFit{d: d, misfit: sum / n}
	}, cross-rise, cross+rise, 1e-4*r.v.Dt)
	// ∂²/∂d² of the sum gives what noise does: var = 2·σ²/S″.
	h := 0.1 * r.v.Dt
	s0, n := diff(best.d)
	sp, _ := diff(best.d + h)
	sm, _ := diff(best.d - h)
	curvature := (sp - 2*s0 + sm) / (h * h)
	noise := math.Sqrt(2 * s0 / n / curvature)
	q.Value, q.U = best.d, math.Sqrt(noise*noise+(best.d-cross)*(best.d-cross)/3+0.0009*r.v.Dt*r.v.Dt)
	return q, curvature > 0
}

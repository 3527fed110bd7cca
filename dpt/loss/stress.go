package loss

import (
	"fmt"
	"math"
)

// part is a part of the losses.
type part int

const (
	partOn    part = iota // turn-on
	partOff               // turn-off
	partRr                // recovery of the freewheeling device
	partCondT             // conduction of the transistor
	partCondD             // conduction of the freewheeling side
	partDead              // of the diode during the dead times
	parts
)

// temperatures of the two dies that a position has, or a leg with a direct current
// uses [K].
type temperatures struct{ T, D float64 }

// stress is what one leg (direct current) or one position (three-phase) goes through
// at a switching frequency.
type stress struct {
	c      *Converter
	f      float64
	duty   float64
	valley float64 // current at turn-on [A]
	peak   float64 // current at turn-off; of three-phase the peak of the sine [A]
}

// newStress works out the currents. It refuses what is not hard switching.
func newStress(c *Converter, f float64) (stress, error) {
	s := stress{c: c, f: f}
	if c.Kind == ThreePhase {
		s.peak = math.Sqrt2 * c.I
		return s, nil
	}
	s.duty = c.duty()
	half := 0.0
	if c.L > 0 {
		half = c.bus() * s.duty * (1 - s.duty) / (2 * c.L * f)
	}
	s.valley, s.peak = c.current()-half, c.current()+half
	if s.valley <= 0 {
		return s, fmt.Errorf("the inductor's current falls to %.3g A before turn-on: that is no hard switching, and the energies do not hold", s.valley)
	}
	return s, nil
}

// losses returns the parts [W] at junction temperatures, of one leg or one position.
func (s stress) losses(r *reading, t temperatures) [parts]float64 {
	if s.c.Kind == ThreePhase {
		return s.cycles(r, t)
	}
	var p [parts]float64
	p[partOn] = s.f * r.energy(turnOn, s.valley, t.T)
	p[partOff] = s.f * r.energy(turnOff, s.peak, t.T)
	p[partRr] = s.f * r.energy(recovery, s.valley, t.D)
	p[partCondT] = s.duty * r.power(true, s.valley, s.peak, t.T)
	free, from, to := 1-s.duty, s.valley, s.peak
	if dead := s.dead(); dead != 0 {
		p[partDead] = dead * (r.power(false, s.peak, s.peak, t.D) + r.power(false, s.valley, s.valley, t.D))
		fall := (s.peak - s.valley) * zeroNaN(dead) / free // of the current in a dead time
		from, to = from+fall, to-fall
		free -= 2 * zeroNaN(dead)
	}
	p[partCondD] = free * r.power(s.c.Synchronous, from, to, t.D)
	return p
}

// dead returns the share of a period that one dead time takes: 0 where the diode
// conducts anyway, NaN where it is not given.
func (s stress) dead() float64 {
	if !s.c.Synchronous {
		return 0
	}
	return s.c.Dead * s.f
}

// oneDie tells whether the freewheeling diode of a position is its transistor's die.
func (c *Converter) oneDie() bool { return math.IsNaN(c.Diode.Rth) }

// heat returns what heats the two dies. In a leg with a direct current they belong to
// the hard-switching and to the freewheeling side; in three-phase both belong to each
// position, and are one where the diode is the transistor's own.
func (s stress) heat(p [parts]float64) temperatures {
	t := zeroNaN(p[partOn]) + zeroNaN(p[partOff]) + zeroNaN(p[partCondT])
	d := zeroNaN(p[partRr]) + zeroNaN(p[partDead])
	if s.c.Kind == ThreePhase && s.c.Synchronous {
		t += zeroNaN(p[partCondD])
	} else {
		d += zeroNaN(p[partCondD])
	}
	if s.c.Kind == ThreePhase && s.c.oneDie() {
		return temperatures{t + d, t + d}
	}
	return temperatures{t, d}
}

// whole returns all that one leg or position loses in its dies.
func whole(p [parts]float64) float64 {
	sum := 0.0
	for _, x := range p {
		sum += zeroNaN(x)
	}
	return sum
}

// zeroNaN is 0 for a part that is not known; the figures tell that it is missing.
func zeroNaN(x float64) float64 {
	if math.IsNaN(x) {
		return 0
	}
	return x
}

// positions is how many times the converter has what a stress describes.
func (c *Converter) positions() float64 {
	if c.Kind == ThreePhase {
		return 6
	}
	return 1
}

// freewheelRth returns the thermal resistance of the die that freewheels [K/W], and
// whose it is.
func (c *Converter) freewheelRth() (float64, inputKind) {
	if c.oneDie() || c.Kind != ThreePhase && c.Synchronous {
		return c.Transistor.Rth, rthTransistor
	}
	return c.Diode.Rth, rthDiode
}

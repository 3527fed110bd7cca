package dpt

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"slewbook/dpt/result"
	"slewbook/waveform"
	"slewbook/waveform/unit"
)

// Accuracy is what an instrument's specification says of a channel.
type Accuracy struct {
	Reading float64 // part of the reading, which bounds the gain
	Range   float64 // part of the input range, which bounds the zero
	Fixed   float64 // bounds the zero on top of that [V or A]
	K       float64 // what the bounds are divided by to be standard uncertainties
	Bounded bool    // any error within them is as likely as another, so that K is √3 (JCGM 100, 4.3.7)
}

// ParseAccuracy reads a specification such as "1 % of reading + 0.5 % of range + 0.2
// V", with ", k = 2" behind it where its coverage is stated.
func ParseAccuracy(text, base string) (Accuracy, error) {
	const form = `expected parts such as "1 % of reading + 0.5 % of range + 0.2 V", with ", k = 2" behind them where the coverage is stated`
	a := Accuracy{K: math.Sqrt(3), Bounded: true}
	text, coverage, stated := strings.Cut(text, ",")
	if stated {
		name, value, _ := strings.Cut(coverage, "=")
		k, err := strconv.ParseFloat(strings.TrimSpace(value), 64)
		if strings.TrimSpace(name) != "k" || err != nil || !(k >= 1 && k <= 5) {
			return a, fmt.Errorf("%q is no coverage factor from 1 to 5; %s", strings.TrimSpace(coverage), form)
		}
		a.K, a.Bounded = k, false
	}
	for part := range strings.SplitSeq(text, "+") {
		size, of, relative := strings.Cut(strings.TrimSpace(part), " of ")
		to, base := &a.Fixed, base
		if relative {
			base = "1"
			switch of {
			case "reading":
				to = &a.Reading
			case "range":
				to = &a.Range
			default:
				return a, fmt.Errorf("%q is neither of reading nor of range; %s", of, form)
			}
		}
		x, err := unit.Parse(size, base)
		if err != nil {
			return a, fmt.Errorf("%w; %s", err, form)
		}
		if !(x > 0) || *to != 0 {
			return a, fmt.Errorf("%q; expected each part once and above zero", strings.TrimSpace(part))
		}
		*to = x
	}
	return a, nil
}

// Gain and Zero are the standard uncertainties that follow, NaN where the
// specification does not bound them; span is the input range, peak to peak.
func (a Accuracy) Gain() float64 { return above(a.Reading / a.K) }

// Zero is that of the zero [V or A].
func (a Accuracy) Zero(span float64) float64 {
	zero := a.Fixed
	if a.Range > 0 {
		zero += a.Range * span
	}
	return above(zero / a.K)
}

func above(x float64) float64 {
	if x > 0 {
		return x
	}
	return math.NaN()
}

// knownSteps sees to it that no channel's noise is below what the converter's step
// makes, where the set-up tells it.
func (m *measurer) knownSteps() {
	for role, ch := range m.opt.Channels {
		if g, ok := m.r.grain[role]; ok {
			g.sigma = max(g.sigma, ch.Step/math.Sqrt(12))
			m.r.grain[role] = g
		}
	}
}

// Traceable says by what a channel's gain is known.
type Traceable struct {
	Reference  string    // what it was calibrated against; channels of one reference share its error
	Calibrated time.Time // zero where that is not known
	Due        time.Time // when it is to be calibrated again
	Drift      float64   // most that the gain moves from one to the other, relative; 0 where that is not known
}

// ParseDate reads a date of the form 2026-11-25.
func ParseDate(text string) (time.Time, error) {
	t, err := time.Parse(time.DateOnly, text)
	if err != nil {
		return t, fmt.Errorf("%q; expected a date such as 2026-11-25", text)
	}
	return t, nil
}

// date returns the day of the test, zero if the record of conditions does not tell.
func (m *measurer) date() time.Time {
	if c := m.shot.Condition("date"); c != nil {
		t, _ := ParseDate(c.Text) // zero where it is no date
		return t
	}
	return time.Time{}
}

// drifted is the standard uncertainty of a gain from its drift since calibration,
// which is taken to grow evenly, with any drift up to that as likely as another.
// Where the day of the test is not known, the whole interval counts.
func (m *measurer) drifted(role result.Role) float64 {
	t := m.opt.Channels[role].Traceable
	if !(t.Drift > 0) {
		return 0
	}
	age := 1.0
	if day, interval := m.date(), t.Due.Sub(t.Calibrated); interval > 0 && !day.IsZero() {
		age = math.Abs(day.Sub(t.Calibrated).Hours()) / interval.Hours()
	}
	return t.Drift * age / math.Sqrt(3)
}

// overdue warns where a channel's calibration had run out on the day of the test.
func (m *measurer) overdue() {
	for _, role := range result.Roles {
		t := m.opt.Channels[role].Traceable
		if day := m.date(); !t.Due.IsZero() && day.After(t.Due) {
			text := fmt.Sprintf("the calibration of %s was due on %s, the test is of %s", role, t.Due.Format(time.DateOnly), day.Format(time.DateOnly))
			if t.Drift > 0 {
				text += "; its drift is counted on"
			} else {
				text += "; nothing is added for that, since no drift is stated (channel." + string(role) + ".drift)"
			}
			m.shot.Warnings = append(m.shot.Warnings, waveform.Warning{Code: waveform.CalibrationOverdue, Channel: string(role), Text: text})
		}
	}
}

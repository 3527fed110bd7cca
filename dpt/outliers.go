package dpt

import (
	"fmt"
	"math"
	"strings"

	"slewbook/dpt/result"
	"slewbook/waveform"
)

// What no switch, probe or scope of this job reaches, by far: single devices block
// some ten kilovolts and carry some kiloamperes.
const (
	farVoltage = 100e3 // [V]
	farCurrent = 1e6   // [A]
)

// believed returns the trace with the samples that its neighbours cannot support as
// missing ones, so that nothing is read across them, and a warning that tells which.
// A running median, which the set-up may ask for, takes such samples out by itself.
func believed(tr *waveform.Trace, filter string) (*waveform.Trace, *waveform.Warning) {
	if strings.HasPrefix(strings.TrimSpace(filter), "median") {
		return tr, nil
	}
	found := waveform.Outliers(tr.Y)
	if len(found) == 0 {
		return tr, nil
	}
	const most = 3 // are told one by one
	var each []string
	for _, k := range found[:min(most, len(found))] {
		each = append(each, fmt.Sprintf("%.4g %s at %s", tr.Y[k], tr.Unit, at(tr.Time(k))))
	}
	count := "1 sample"
	if n := len(found); n > 1 {
		count = fmt.Sprintf("%d samples", n)
	}
	w := &waveform.Warning{Code: waveform.Outlier, Channel: tr.Name, Over: waveform.Interval{From: tr.Time(found[0]), To: tr.Time(found[len(found)-1])},
		Text: fmt.Sprintf("%s of trace %q, far off what the samples around support, counted as missing: %s", count, tr.Name, strings.Join(each, ", "))}
	if len(found) > most {
		w.Text += " and so on"
	}
	out := change(tr, 1, 0)
	for _, k := range found {
		out.Y[k] = math.NaN()
	}
	return out, w
}

// farOff tells of a channel whose samples are beyond all that is switched.
func (r *record) farOff() error {
	for _, role := range append(result.SetupRoles(), result.Roles...) {
		tr := r.trace(role)
		if tr == nil {
			continue
		}
		limit := farVoltage
		if role.Unit() == "A" {
			limit = farCurrent
		}
		for k, y := range tr.Y {
			if math.Abs(y) > limit && !math.IsInf(y, 0) {
				return fmt.Errorf("%s (trace %q) is %.4g %s at %s, but nothing that is switched goes beyond %.0e %s: check the units in the file and channel.%s.scale",
					role, tr.Name, y, role.Unit(), at(tr.Time(k)), limit, role.Unit(), role)
			}
		}
	}
	return nil
}

package dpt_test

import (
	"math"
	"path/filepath"
	"strings"
	"testing"

	"slewbook/dpt"
	"slewbook/dpt/result"
	"slewbook/waveform/format"
)

// untold tells what of a quantity would be wrong in silence: no number without a reason,
// no number without uncertainty, stretch and definition, no u that its budget does not
// make.
func untold(m result.Measurement) []string {
	var wrong []string
	check := func(ok bool, what string) {
		if !ok {
			wrong = append(wrong, what)
		}
	}
	for _, w := range m.Warnings {
		check(w.Code != "" && w.Text != "", "a warning says nothing")
	}
	if math.IsNaN(m.Value) {
		check(len(m.Warnings) > 0, "no number and no reason")
		check(math.IsNaN(m.U) && len(m.Budget) == 0, "an uncertainty of no number")
		return wrong
	}
	check(!math.IsInf(m.Value, 0), "infinite")
	check(m.Over.Duration() >= 0, "no stretch that it was read on")
	check(m.Definition != "", "no definition")
	switch {
	case math.IsNaN(m.U) && m.Value == 0:
		return wrong // of a signal without noise that does not move at all
	case math.IsNaN(m.U):
		check(strings.Contains(warned(m), "uncertainty is not known"), "no uncertainty and no reason")
		return wrong
	}
	check(m.U > 0 && !math.IsInf(m.U, 0), "its uncertainty is no size")
	sum := 0.0
	for _, c := range m.Budget {
		check(c.Source != "" && c.Unit != "" && c.Scope != "" && c.Basis != "", "a line of the budget that does not say of what: "+c.Source)
		sum += c.Effect * c.Effect
	}
	check(math.Abs(math.Sqrt(sum)/m.U-1) < 1e-9, "a budget that does not make its u")
	return wrong
}

// warned is all that is warned of in a quantity.
func warned(m result.Measurement) string {
	text := ""
	for _, w := range m.Warnings {
		text += w.Text + "\n"
	}
	return text
}

// Nothing is wrong in silence: on every capture of the project, those that no double
// pulse is on included, every quantity by every definition is a number with its interval,
// or has none and says why; and what is refused says why.
func TestNothingInSilence(t *testing.T) {
	measured := 0
	for _, dir := range []string{"../testdata/captures", "../testdata/ngspice", "../testdata/layouts", "../examples/captures"} {
		sources, _, err := format.Find(filepath.FromSlash(dir), format.Options{})
		if err != nil {
			t.Fatal(err)
		}
		for _, s := range sources {
			captures, err := s.Read()
			if err != nil {
				continue // the readers' own tests hold that they say why
			}
			for _, c := range captures {
				opt := dpt.Defaults()
				opt.AllDefinitions = true
				if strings.Contains(c.Name, "igbt") || strings.Contains(c.Name, "tail") {
					opt.Device = dpt.IGBT
				}
				shot, err := dpt.Measure(c, opt)
				if err != nil {
					if len(err.Error()) < 20 || len(shot.Quantities) > 0 {
						t.Errorf("%s/%s is refused with %q and %d quantities", dir, c.Name, err, len(shot.Quantities))
					}
					continue
				}
				measured++
				for _, m := range shot.Quantities {
					for _, wrong := range untold(m) {
						t.Errorf("%s/%s: %s = %g ± %g: %s", dir, c.Name, m.Key, m.Value, m.U, wrong)
					}
				}
			}
		}
	}
	if measured < 20 {
		t.Errorf("only %d captures were measured", measured)
	}
}

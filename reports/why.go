package reports

import (
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"slewbook/dpt/result"
	"slewbook/waveform"
	"slewbook/waveform/unit"
)

// runSteps is how many rows the running integral has.
const runSteps = 10

// WriteWhy tells why a quantity of a measured shot has its value: definition,
// bases and levels, window, corrections, running integral, sensitivity to delay,
// other definitions, uncertainty line by line, warnings. The shot must
// still have its traces.
func WriteWhy(w io.Writer, s *result.Shot, key string, opt TextOptions) error {
	m, err := quantity(s, key)
	if err != nil {
		return err
	}
	c, _ := result.FindColumn(key)
	p := &textTable{opt: opt}
	p.line("%s  %s = %s", s.Capture, result.Symbol(key, s.IGBT()), valueU(m))
	p.line("what: %s", c.Help)
	p.definition(m, c)
	if !math.IsNaN(m.Over.From) {
		p.line("read from %s to %s (%s)", unit.Format(m.Over.From, "s", 7), unit.Format(m.Over.To, "s", 7), unit.Format(m.Over.Duration(), "s", 4))
	}
	for _, e := range s.Edges {
		if e.Edge == c.Edge {
			p.levels(s, e)
		}
	}
	p.corrections(s)
	p.running(s, m)
	p.others(s, m)
	p.budget(s, m)
	p.shrink(m)
	if plain := s.Quantity(c.Key); plain != nil && plain.MonteCarlo != nil { // a named definition was read as the column's
		p.trials(m, plain.MonteCarlo)
	}
	for _, x := range m.Warnings {
		p.line("warning %s: %s", x.Code, x.Text)
	}
	return p.write(w)
}

func quantity(s *result.Shot, key string) (*result.Measurement, error) {
	m := s.Quantity(key)
	if m == nil {
		return nil, fmt.Errorf("%s: there is no quantity %q; slewbook definitions lists the names", s.Capture, key)
	}
	return m, nil
}

// valueU writes a value with its expanded uncertainty, or why there is none.
func valueU(m *result.Measurement) string {
	switch {
	case math.IsNaN(m.Value) && len(m.Warnings) > 0:
		return fmt.Sprintf("- (%s)", m.Warnings[0].Code)
	case math.IsNaN(m.Value):
		return "-"
	case !known(m.U):
		return valueText(m.Value, m.U, m.Unit, false)
	}
	return fmt.Sprintf("%s ± %s (k = 2)", valueText(m.Value, m.U, m.Unit, false), unit.Format(2*m.U, m.Unit, 2))
}

func (p *textTable) definition(m *result.Measurement, c result.Column) {
	p.line("definition: %s", m.Definition)
	if m.Delay != nil && m.Delay.Basis != "" {
		p.line("rests on: %s", m.Delay.Basis)
	}
	if m.Corrected != 0 {
		p.line("  corrected for the bandwidths of its channels: %s added to what was read", unit.Format(m.Corrected, m.Unit, 3))
	}
	for _, d := range result.Definitions() {
		if d.Key == c.Key && d.Name == m.Definition {
			p.line("  %s; %s; source: %s", d.Text, d.Formula, Source(d.Source, d.Sure))
		}
	}
}

// recorded is what the capture itself holds at a mark, NaN where it does not tell.
func recorded(s *result.Shot, m result.Mark) float64 {
	if tr := s.Raw[m.Role]; tr != nil {
		return tr.At(m.T)
	}
	return math.NaN()
}

func (p *textTable) levels(s *result.Shot, e result.EdgeMarks) {
	p.line("\nbases of the %s: bus %s, load current %s", e.Edge, unit.Format(e.Bus, "V", 5), unit.Format(e.Load, "A", 5))
	rows := [][]string{{"level", "t", "value", "as recorded"}}
	for _, m := range e.Marks {
		rows = append(rows, []string{m.Label, unit.Format(m.T, "s", 7), unit.Format(m.Y, m.Role.Unit(), 5), unit.Format(recorded(s, m), m.Role.Unit(), 5)})
	}
	p.rows(Table{Rows: rows, Keys: 1, Words: AllWords, Indent: 2})
}

func (p *textTable) corrections(s *result.Shot) {
	for k, c := range s.Corrections {
		if k == 0 {
			p.line("\ncorrections before it was read:")
		}
		text := fmt.Sprintf("  %s of %s: %s", c.Kind, inWords(s, string(c.Channel)), c.Text)
		if !math.IsNaN(c.EOn) && !math.IsNaN(c.EOff) {
			text += fmt.Sprintf("; changed e_on by %s, e_off by %s", unit.Format(c.EOn, "J", 3), unit.Format(c.EOff, "J", 3))
		}
		p.line("%s", text)
	}
}

// runStep is the running integral of v·i at one instant, in SI base units.
type runStep struct{ t, v, i, e float64 }

// runningIntegral is that of an energy over its window; nil for what is none.
func runningIntegral(s *result.Shot, m *result.Measurement) []runStep {
	v, i := s.Traces[result.Vds], s.Traces[result.Id]
	if c, _ := result.FindColumn(m.Key); c.Key != "e_on" && c.Key != "e_off" || math.IsNaN(m.Value) || v == nil || i == nil {
		return nil
	}
	var out []runStep
	for k := range runSteps + 1 {
		to := m.Over.From + float64(k)/runSteps*m.Over.Duration()
		sum := 0.0
		if k > 0 {
			sum = waveform.ProductIntegral(v, i, waveform.Interval{From: m.Over.From, To: to})
		}
		out = append(out, runStep{to, v.At(to), i.At(to), sum})
	}
	return out
}

// running tabulates the running integral of v·i over the window, which is what
// the energy is, and how it changes with the delay.
func (p *textTable) running(s *result.Shot, m *result.Measurement) {
	steps := runningIntegral(s, m)
	if len(steps) == 0 {
		return
	}
	p.line("\nrunning integral of v·i:")
	rows := [][]string{{"t", "v", "i", "integral", "part"}}
	for _, x := range steps {
		rows = append(rows, []string{unit.Format(x.t, "s", 7), unit.Format(x.v, "V", 4), unit.Format(x.i, "A", 4), unit.Format(x.e, "J", 4), fmt.Sprintf("%.1f %%", 100*x.e/m.Value)})
	}
	p.rows(Table{Rows: rows, Keys: 1, Indent: 2})
	if m.PerRing != 0 {
		p.line("a window that ends one period of the ringing later: %s (%+.2f %%)", unit.Format(m.PerRing, "J", 3), 100*m.PerRing/m.Value)
	}
	p.line("sensitivity: %s per ns more lag of the current (-∫v di; %+.2f %%)", unit.Format(m.PerDelay*1e-9, "J", 3), 100*m.PerDelay*1e-9/m.Value)
}

// ofBranch tells whether a key is that of one of several parallel devices, whose kin are
// the others of them and no definitions.
func ofBranch(key string) bool {
	_, name, _ := strings.Cut(key, ".")
	return result.IsBranch(name)
}

// kin lists what the same edge gives under other definitions, or in other branches.
func kin(s *result.Shot, m *result.Measurement) []result.Measurement {
	c, _ := result.FindColumn(m.Key)
	var out []result.Measurement
	for _, other := range s.Quantities {
		if strings.HasPrefix(other.Key, c.Key+".") && other.Key != m.Key {
			out = append(out, other)
		}
	}
	return out
}

func (p *textTable) others(s *result.Shot, m *result.Measurement) {
	var rows [][]string
	for _, other := range kin(s, m) {
		rows = append(rows, []string{other.Key, valueU(&other)})
	}
	if len(rows) > 0 {
		p.line("\n%s:", ifElse(ofBranch(m.Key), "the other branches", "under other definitions (not comparable with each other)"))
		p.rows(Table{Rows: rows, Keys: 1, Words: AllWords, Indent: 2})
	}
}

// noBudget is said where no uncertainty is told line by line.
const noBudget = "No uncertainty is computed for it."

func (p *textTable) budget(s *result.Shot, m *result.Measurement) {
	if len(m.Budget) == 0 {
		p.line("\n%s", noBudget)
		return
	}
	p.line("\nstandard uncertainty %s, of:", unit.Format(m.U, m.Unit, 3))
	rows := [][]string{{"input", "its u", "effect", "part of u²", "from"}}
	for _, c := range m.Budget {
		rows = append(rows, []string{inWords(s, c.Source), unit.Format(c.U, c.Unit, 3), unit.Format(c.Effect, m.Unit, 3), fmt.Sprintf("%.1f %%", 100*c.Effect*c.Effect/(m.U*m.U)), c.Basis})
	}
	p.rows(Table{Rows: rows, Keys: 1, Words: AllWords, Indent: 2})
}

// trials tells what a propagation of distributions gives beside the budget.
func (p *textTable) trials(m *result.Measurement, mc *result.MonteCarlo) {
	p.line("\nMonte Carlo (JCGM 101), %d trials, seed %d: mean %s, standard uncertainty %s", mc.Trials, mc.Seed, unit.Format(mc.Mean, m.Unit, 5), unit.Format(mc.U, m.Unit, 3))
	rows := [][]string{{"interval of 95.45 %", "from", "to"}}
	row := func(name string, low, high float64) {
		rows = append(rows, []string{name, unit.Format(low, m.Unit, 5), unit.Format(high, m.Unit, 5)})
	}
	row("value ± 2u", m.Value-2*m.U, m.Value+2*m.U)
	row("symmetric, of the trials", mc.Low, mc.High)
	row("shortest, of the trials", mc.ShortLow, mc.ShortHigh)
	p.rows(Table{Rows: rows, Keys: 1, Words: AllWords, Indent: 2})
	low, high := unit.Format(math.Abs(m.Value-2*m.U-mc.Low), m.Unit, 2), unit.Format(math.Abs(m.Value+2*m.U-mc.High), m.Unit, 2)
	verdict := "the budget is validated"
	if !mc.Agrees {
		verdict = "the budget is not validated, since " + strings.Join(notValidated(m, mc), "; ")
	}
	p.line("the ends differ by %s and %s, tolerance %s: %s", low, high, unit.Format(mc.Tolerance, m.Unit, 1), verdict)
	switch {
	case mc.Agrees:
	case mc.Settled:
		p.line("take the interval of the trials")
	default:
		p.line("they tell nothing for sure")
	}
	if mc.Lost > 0 {
		p.line("in %d trials there was no value to read", mc.Lost)
	}
}

// notValidated tells in words how trials differ from a budget.
func notValidated(m *result.Measurement, mc *result.MonteCarlo) []string {
	if !mc.Settled {
		return []string{fmt.Sprintf("the trials have not settled after %d", mc.Trials)}
	}
	var why []string
	if mc.Lost*1000 > mc.Trials {
		why = append(why, fmt.Sprintf("in %.2g %% of the trials there was nothing to read: an input known no better moves a level out of the edge", 100*float64(mc.Lost)/float64(mc.Trials)))
	}
	if shift := mc.Mean - m.Value; math.Abs(shift) > mc.Tolerance {
		text := "the quantity bends over the range of its inputs"
		if slices.ContainsFunc(m.Budget, func(c result.Contribution) bool { return c.Source == "first or largest of noisy samples" }) {
			text = "noise that is added to that in the record moves the first crossing, or the largest sample, once more"
		}
		why = append(why, fmt.Sprintf("their mean is %s the value by %s: %s", ifElse(shift > 0, "above", "below"), unit.Format(math.Abs(shift), m.Unit, 2), text))
	}
	if ratio := mc.U / m.U; math.Abs(mc.U-m.U) > mc.Tolerance/2 {
		why = append(why, fmt.Sprintf("their standard deviation is %.2f times u: over two u and more an input moves it otherwise than over one, or it is read from another crossing", ratio))
	}
	if up, down := mc.High-mc.Mean, mc.Mean-mc.Low; math.Abs(up-down) > 2*mc.Tolerance {
		why = append(why, fmt.Sprintf("they spread unevenly, %s below their mean and %s above", unit.Format(down, m.Unit, 2), unit.Format(up, m.Unit, 2)))
	}
	if why == nil {
		why = []string{fmt.Sprintf("what differs is small and adds up: mean %s off the value, standard deviation %.2f times u, interval %s below the mean and %s above",
			unit.Format(mc.Mean-m.Value, m.Unit, 2), mc.U/m.U, unit.Format(mc.Mean-mc.Low, m.Unit, 3), unit.Format(mc.High-mc.Mean, m.Unit, 3))}
	}
	return why
}

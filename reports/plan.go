package reports

import (
	"cmp"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"

	"slewbook/dpt/result"
	"slewbook/waveform/unit"
)

// cautions are what every plan is printed with.
var cautions = []string{
	"Nothing here authorises work, replaces a risk assessment, or says that a set-up is safe. Local law, site rules and competent, authorised persons decide. Never alone, never unattended while energised.",
	"The bank and the inductor stay charged after the supply is off; voltage can come back, and a bleeder can fail. Discharge slowly, then short or earth, verify with a rated meter, keep the bond on.",
	"Cases burst violently: a closed enclosure that holds fragments, with an interlock that removes supply, blocks pulses and starts discharge; fire from outside; one person holds the arm control.",
	"Shots go from low to high. Stop at any overvoltage, current, temperature, sag or ringing that was not expected, and after any failure: treat as charged, keep the last record.",
	"Probes rated for voltage, category, common mode and frequency; the instrument's earth is not lifted; hot parts may sit at bus potential, and insulation holds for the real edges and temperature.",
	"A gate driver that is unpowered or unplugged must leave the devices off; verify the pulse widths at zero bus first. Software is never the only interlock.",
}

// WritePlanText writes a plan for people: stored energy and cautions first, then
// a row a point, the limits that are broken, and the inverse questions.
func WritePlanText(w io.Writer, p *result.Plan, opt TextOptions) error {
	t := textTable{opt: opt}
	for _, text := range storedEnergy(p) {
		t.para("", text)
	}
	for _, c := range cautions {
		t.para("- ", c)
	}
	t.printf("\nPlan: %d points, %d shots, from low to high\n\n", len(p.Points), len(p.Points)*p.Repeats)
	t.planTable(p, func(f result.PlanFigure) bool { return f.Text })
	for k, pt := range p.Points {
		for _, n := range pt.Notes() {
			t.para(fmt.Sprintf("! %d  ", k+1), n)
		}
	}
	t.printf("\n")
	for _, a := range p.Answers {
		t.para("- ", a)
	}
	if len(p.Unchecked) > 0 {
		t.para("Not checked, since nothing is known of it: ", strings.Join(p.Unchecked, "; ")+".")
	}
	return t.write(w)
}

// planTable writes the figures that are to be shown, those aside that no point has.
func (t *textTable) planTable(p *result.Plan, show func(result.PlanFigure) bool) {
	rows := [][]string{{"no"}}
	for k, pt := range p.Points {
		rows = append(rows, []string{ifElse(len(pt.Notes()) > 0, "! ", "") + strconv.Itoa(k+1)})
	}
	for k, f := range p.Figures {
		if !show(f) || allMissing(p, k) {
			continue
		}
		rows[0] = append(rows[0], f.Key)
		for n, pt := range p.Points {
			show := unit.Format
			if f.Difference {
				show = unit.FormatDifference
			}
			rows[n+1] = append(rows[n+1], show(pt.Values[k], f.Unit, 4))
		}
	}
	t.rows(Table{Rows: rows, Keys: 1, Indent: 2})
}

func allMissing(p *result.Plan, k int) bool {
	for _, pt := range p.Points {
		if !math.IsNaN(pt.Values[k]) {
			return false
		}
	}
	return true
}

// WritePlanCSV writes every figure of every point, SI base units, full precision.
func WritePlanCSV(w io.Writer, p *result.Plan) error {
	head := []string{"point"}
	for _, f := range p.Figures {
		head = append(head, strings.TrimSuffix(f.Key+" ("+f.Unit+")", " ()"))
	}
	rows := [][]string{append(head, "breaks")}
	for k, pt := range p.Points {
		row := append([]string{strconv.Itoa(k + 1)}, each(pt.Values, csvFloat)...)
		rows = append(rows, append(row, strings.Join(pt.Notes(), "; ")))
	}
	return WriteRowsCSV(w, rows)
}

// WritePulsesCSV writes the times of the gate's edges for a pulse generator, in
// seconds from the first turn-on: a row a point. Points that break a limit or
// cannot be reached are left out.
func WritePulsesCSV(w io.Writer, p *result.Plan) error {
	rows := [][]string{{"point", "on_1 (s)", "off_1 (s)", "on_2 (s)", "off_2 (s)"}}
	for k, pt := range p.Points {
		if len(pt.Notes()) > 0 {
			continue
		}
		off := p.Value(k, "t_1")
		on := off + p.Value(k, "t_gap")
		row := []string{strconv.Itoa(k + 1)}
		for _, t := range []float64{0, off, on, on + p.Value(k, "t_2")} {
			row = append(row, strconv.FormatFloat(t, 'g', 9, 64))
		}
		rows = append(rows, row)
	}
	return WriteRowsCSV(w, rows)
}

// WritePlanJSON writes an object a line for each point: every figure by its key
// in SI base units, null where an input is not known, and the limits it breaks.
func WritePlanJSON(w io.Writer, p *result.Plan) error {
	for k, pt := range p.Points {
		var figures result.Object
		for n, f := range p.Figures {
			figures = append(figures, result.Member{Key: f.Key, Value: result.Number(pt.Values[n])})
		}
		var short *string
		if pt.Short != "" {
			short = &pt.Short
		}
		if err := WriteObject(w, "point", k+1, "figures", figures, "breaks", pt.Breaks, "error", short, "unchecked", p.Unchecked); err != nil {
			return err
		}
	}
	return nil
}

// Explained is a figure of a plan or of losses with what it is made from.
type Explained struct {
	Of string // "plan" or "losses"
	result.PlanFigure
	Inputs []Input
	Plan   *result.Plan // whose points show the figure with its inputs; nil for none
}

// Input is one of a figure's inputs: another figure, a key of a file, a grid.
type Input struct {
	Name, Unit string
	Value      float64 // NaN where it is not known, or differs from point to point
}

// shown are the figures of the plan that an explanation shows at each point.
func (x *Explained) shown() []string {
	keys := []string{"v_bus", "i_off"}
	for _, in := range append(x.PlanFigure.Inputs[:len(x.PlanFigure.Inputs):len(x.PlanFigure.Inputs)], x.Key) {
		if x.Plan.Has(in) && !slices.Contains(keys, in) {
			keys = append(keys, in)
		}
	}
	return keys
}

// WriteFigureText tells what a figure is, how it is computed and from what, with units;
// and what that is at each point, where there is a plan.
func WriteFigureText(w io.Writer, x Explained, opt TextOptions) error {
	t := textTable{opt: opt}
	t.para("", fmt.Sprintf("%s.%s [%s]: %s", x.Of, x.Key, cmp.Or(x.Unit, "1"), x.Help))
	t.para("formula: ", x.Formula)
	t.para("inputs: ", strings.Join(each(x.Inputs, func(in Input) string {
		switch {
		case !math.IsNaN(in.Value):
			return in.Name + " = " + unit.Format(in.Value, in.Unit, 4)
		case in.Unit != "":
			return in.Name + " [" + in.Unit + "]"
		}
		return in.Name
	}), ", "))
	if x.Source != "" {
		t.para("source: ", x.Source)
	}
	if x.Plan != nil {
		t.printf("\n")
		shown := x.shown()
		t.planTable(x.Plan, func(f result.PlanFigure) bool { return slices.Contains(shown, f.Key) })
	}
	return t.write(w)
}

// WriteFigureJSON writes the same as one line of JSON.
func WriteFigureJSON(w io.Writer, x Explained) error {
	inputs := each(x.Inputs, func(in Input) any { return Object("name", in.Name, "unit", in.Unit, "value", in.Value) })
	points := []any{}
	if x.Plan != nil {
		shown := x.shown()
		for k := range x.Plan.Points {
			var figures result.Object
			for _, key := range shown {
				figures = append(figures, result.Member{Key: key, Value: result.Number(x.Plan.Value(k, key))})
			}
			points = append(points, Object("point", k+1, "figures", figures))
		}
	}
	return WriteObject(w, "key", x.Of+"."+x.Key, "symbol", x.Symbol, "unit", x.Unit, "help", x.Help, "formula", x.Formula, "inputs", inputs, "source", x.Source, "points", points)
}

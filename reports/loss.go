package reports

import (
	"cmp"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"slewbook/dpt/result"
	"slewbook/waveform/unit"
)

// budgetU is the standard uncertainty that the lines of a budget make; NaN without
// lines.
func budgetU(budget []result.Contribution) float64 {
	if len(budget) == 0 {
		return math.NaN()
	}
	sum := 0.0
	for _, c := range budget {
		sum += c.Effect * c.Effect
	}
	return math.Sqrt(sum)
}

// WriteLossesText writes the losses of a converter for people: a row a switching
// frequency, what dominates, where data were left, and what is not in the numbers.
func WriteLossesText(w io.Writer, l *result.Losses, opt TextOptions) error {
	t := textTable{opt: opt}
	t.printf("Losses of a %s converter\n\n", l.Kind)
	t.lossTable(l)
	for n, p := range l.Points {
		t.lossNotes(l, n, p)
	}
	t.printf("\n")
	if sameMissing(l) && len(l.Points[0].Missing) > 0 {
		t.para("- ", missingText(l.Points[0])+".")
	}
	for _, a := range l.Answers {
		t.para("- ", a+".")
	}
	t.paragraphs("Data: ", l.Data)
	if len(l.NotInU) > 0 {
		t.para("± is too small by what is not stated: ", strings.Join(l.NotInU, ", ")+".")
	}
	t.para("", "± is U = 2 u (k = 2). An input that several energies share moves them together, and the temperatures follow.")
	t.printf("\nWhat a double-pulse test does not tell:\n")
	for _, text := range l.LeftOut {
		t.para("- ", text)
	}
	return t.write(w)
}

func (t *textTable) paragraphs(head string, texts []string) {
	for _, text := range texts {
		t.para(head, text+".")
		head = strings.Repeat(" ", visible(head))
	}
}

func (t *textTable) lossTable(l *result.Losses) {
	var head, units []string
	rows := make([][]string, len(l.Points))
	for k, f := range l.Figures {
		if !f.Text || l.Unknown(k) {
			continue
		}
		values := each(l.Points, func(p result.LossPoint) float64 { return p.Values[k] })
		size, label := scaleFor(values, f.Unit)
		if f.Unit == "K" {
			label = "°C"
		}
		head, units = append(head, f.Key), append(units, label)
		for n, p := range l.Points {
			rows[n] = append(rows[n], lossCell(f, p.Values[k], budgetU(p.Budgets[k]), size))
		}
	}
	for n, p := range l.Points {
		if p.Err != nil || len(p.Breaks) > 0 {
			rows[n][0] = "! " + rows[n][0]
		}
	}
	t.rows(Table{Rows: append([][]string{head, units}, rows...), Keys: 1, Indent: 2})
	t.printf("\n")
}

// lossCell shows a figure with the digits that its uncertainty supports; sum and
// temperatures with that beside them.
func lossCell(f result.PlanFigure, x, u, size float64) string {
	switch {
	case math.IsNaN(x):
		return "-"
	case f.Unit == "K":
		return Figures(x-celsius, u, 1)
	case f.Key == "p_total":
		return Figures(x, u, size)
	}
	// What has no stated uncertainty makes u too small to give digits by.
	return decimal(x/size, min(decimals(x, u, size), decimals(x, math.NaN(), size)))
}

// lossNotes tells of one frequency what dominates and what is doubtful.
func (t *textTable) lossNotes(l *result.Losses, n int, p result.LossPoint) {
	head := unit.Format(p.Fsw, "Hz", 4) + ": "
	if p.Err != nil {
		t.para("! "+head, t.sentence(p.Err.Error()))
		return
	}
	text := "largest " + strings.Join(dominant(l, n), ", ")
	if lines := l.Budget(n, "p_total"); len(lines) > 0 && known(budgetU(lines)) {
		text += fmt.Sprintf("; of its uncertainty %s, %.0f %%", lines[0].Source, 100*math.Pow(lines[0].Effect/budgetU(lines), 2))
	}
	if off := l.Value(n, "closed_off"); off-off == 0 {
		text += fmt.Sprintf("; the closed form gives %s, %+.2f %%", unit.Format(l.Value(n, "p_closed"), "W", 4), 100*off)
	}
	t.para("  "+head, text+".")
	for _, b := range p.Breaks {
		t.para("! "+head, b+".")
	}
	if len(p.Missing) > 0 && !sameMissing(l) {
		t.para("  "+head, missingText(p)+".")
	}
	if len(p.Beyond) > 0 {
		t.para("! "+head, fmt.Sprintf("EXTRAPOLATED, %.3g %% of the switching losses: %s.", 100*p.Past, strings.Join(p.Beyond, "; ")))
	}
	for _, note := range p.Notes {
		t.para("! "+head, t.sentence(note)+".")
	}
}

// sameMissing tells whether all points lack the same parts.
func sameMissing(l *result.Losses) bool {
	for _, p := range l.Points {
		if p.Err != nil || !slices.Equal(p.Missing, l.Points[0].Missing) {
			return false
		}
	}
	return true
}

func missingText(p result.LossPoint) string {
	return "not in the sum: " + strings.Join(p.Missing, "; ")
}

// dominant lists the parts of a point, the largest first, down to a tenth of the sum,
// with their shares.
func dominant(l *result.Losses, point int) []string {
	total := l.Value(point, "p_total")
	parts := slices.Clone(l.Parts)
	slices.SortStableFunc(parts, func(a, b string) int { return cmp.Compare(partOf(l, point, b), partOf(l, point, a)) })
	var out []string
	for _, key := range parts {
		if s := partOf(l, point, key); s >= 0.1*total {
			out = append(out, fmt.Sprintf("%s %.0f %%", key, 100*s/total))
		}
	}
	return out
}

// shares returns the part of each in the sum.
func shares(l *result.Losses, point int) result.Object {
	var out result.Object
	for _, key := range l.Parts {
		out = append(out, result.Member{Key: key, Value: result.Number(l.Value(point, key) / l.Value(point, "p_total"))})
	}
	return out
}

// partOf is a part, 0 where it is not known.
func partOf(l *result.Losses, point int, key string) float64 {
	if x := l.Value(point, key); x-x == 0 {
		return x
	}
	return 0
}

// WriteLossesCSV writes every figure of every frequency with its standard uncertainty,
// SI base units, full precision.
func WriteLossesCSV(w io.Writer, l *result.Losses) error {
	var head []string
	for _, f := range l.Figures {
		name := strings.TrimSuffix(f.Key+" ("+f.Unit+")", " ()")
		head = append(head, name, "u("+f.Key+")")
	}
	rows := [][]string{append(head, "missing", "beyond", "breaks", "error")}
	for _, p := range l.Points {
		var row []string
		for k := range l.Figures {
			row = append(row, csvFloat(p.Values[k]), csvFloat(budgetU(p.Budgets[k])))
		}
		failed := ""
		if p.Err != nil {
			failed = p.Err.Error()
		}
		rows = append(rows, append(row, strings.Join(p.Missing, "; "), strings.Join(p.Beyond, "; "), strings.Join(p.Breaks, "; "), csvText(failed)))
	}
	return WriteRowsCSV(w, rows)
}

// WriteLossesJSON writes an object a line for each frequency: every figure by its key
// in SI base units with its standard uncertainty and what that is made of, null where
// an input is not known.
func WriteLossesJSON(w io.Writer, l *result.Losses) error {
	for n, p := range l.Points {
		var figures result.Object
		for k, f := range l.Figures {
			budget := each(p.Budgets[k], func(c result.Contribution) any { return Object("source", c.Source, "effect", c.Effect) })
			figures = append(figures, result.Member{Key: f.Key, Value: Object("value", p.Values[k], "unit", f.Unit, "u", budgetU(p.Budgets[k]), "budget", budget)})
		}
		err := WriteObject(w, "converter", l.Kind, "f_sw", p.Fsw, "figures", figures, "shares", shares(l, n), "missing", p.Missing, "beyond", p.Beyond,
			"beyond_share", p.Past, "breaks", p.Breaks, "notes", p.Notes, "not_in_u", l.NotInU, "data", l.Data, "left_out", l.LeftOut, "error", errorText(p.Err))
		if err != nil {
			return err
		}
	}
	return nil
}

// LossCharts returns the parts of the losses, and the temperatures, over the switching
// frequency. Points that failed are left out, not joined over.
func LossCharts(l *result.Losses) []*result.Chart {
	parts := &result.Chart{Key: "p", Over: "f_sw", YSymbol: "P", YUnit: "W", XSymbol: "f_sw", XUnit: "Hz"}
	for _, key := range append([]string{"p_total"}, l.Parts...) {
		parts.Lines = append(parts.Lines, lossLine(l, key)...)
	}
	tj := &result.Chart{Key: "tj", Over: "f_sw", YSymbol: "T_j", YUnit: "K", XSymbol: "f_sw", XUnit: "Hz"}
	for _, key := range []string{"tj_t", "tj_d", "t_sink"} {
		tj.Lines = append(tj.Lines, lossLine(l, key)...)
	}
	for _, c := range []*result.Chart{parts, tj} {
		c.Notes = []string{"A " + l.Kind + " converter. Bars: k = 2. Ringed: data were left. A double-pulse test does not tell all losses; the text says which."}
	}
	return []*result.Chart{parts, tj}
}

func lossLine(l *result.Losses, key string) []result.Line {
	line := result.Line{Label: l.Symbol(key), Left: math.NaN(), Why: "computed"}
	for n, p := range l.Points {
		x := l.Value(n, key)
		if x-x != 0 || key != "p_total" && x == 0 {
			continue
		}
		nan := math.NaN()
		line.Dots = append(line.Dots, result.Dot{X: p.Fsw, Y: x, U: budgetU(l.Budget(n, key)), UX: nan, V: l.Value(n, "v"), I: nan, Tj: nan, Rg: nan,
			Moved: nan, Fitted: nan, LeftOut: nan, Weight: nan, Outlier: len(p.Beyond) > 0, Flags: strings.Join(p.Beyond, "; ")})
	}
	if len(line.Dots) == 0 {
		return nil
	}
	for _, d := range line.Dots {
		line.Fit = append(line.Fit, result.FitPoint{X: d.X, Y: d.Y, Half: math.NaN(), Inside: true})
	}
	return []result.Line{line}
}

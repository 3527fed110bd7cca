package main

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"slewbook/dpt/curve"
	"slewbook/dpt/result"
	"slewbook/reports"
	"slewbook/waveform/unit"
)

// compareKeys are the quantities of a comparison where none is asked for.
var compareKeys = []string{"e_on", "e_off", "e_rr", "e_tot", "v_peak", "i_peak", "dvdt_off", "dvdt_on", "didt_off", "didt_on", "td_off", "td_on", "l_loop"}

func newCompareCmd() *cobra.Command {
	var asJSON bool
	var out figureFlags
	var keys []string
	cmd := &cobra.Command{
		Use:   "compare A B",
		Short: "Put two campaigns side by side, matched by their conditions",
		Long: `compare matches the shots of two result folders of measure by bus voltage,
current, temperature and gate resistor and says whether B is larger, smaller, or
whether the uncertainty does not let one tell (difference below two standard
uncertainties). What both share since they were measured on one bench (gains,
delay) is taken out of that uncertainty first. Values are brought to the same voltage and current first, and
what that changed is told. Quantities of unlike definitions are refused (exit
status 1), unequal conditions are named. With --out it writes compare.csv and the
edges of matched shots over each other.`,
		Example: "  slewbook compare results-busbar-A results-busbar-B\n  slewbook compare before after --quantity e_on,e_off --out compared",
		Args:    cobra.ExactArgs(2),
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := out.parse(); err != nil {
				return err
			}
			return compareResults(args[0], args[1], keys, asJSON, out, cmd.OutOrStdout())
		},
	}
	cmd.Flags().BoolVar(&asJSON, "json", false, "write one JSON object a difference on stdout and nothing else there")
	out.add(cmd)
	cmd.Flags().StringSliceVar(&keys, "quantity", nil, "`keys` of the quantities")
	return cmd
}

func compareResults(dirA, dirB string, keys []string, asJSON bool, out figureFlags, stdout io.Writer) error {
	a, err := readResults([]string{dirA})
	if err != nil {
		return err
	}
	b, err := readResults([]string{dirB})
	if err != nil {
		return err
	}
	if err := errors.Join(checkKeys(a, keys), checkKeys(b, keys)); err != nil {
		return err
	}
	if len(keys) == 0 {
		hasA, hasB := curve.Keys(a), curve.Keys(b)
		for _, k := range compareKeys {
			if slices.Contains(hasA, k) && slices.Contains(hasB, k) {
				keys = append(keys, k)
			}
		}
	}
	c := curve.Compare(a, b, keys)
	lines := bufio.NewWriter(stdout)
	if asJSON {
		err = compareJSON(lines, c)
	} else {
		err = compareText(lines, c, textOptions(stdout))
	}
	if err := errors.Join(err, lines.Flush()); err != nil {
		return err
	}
	if out.dir != "" {
		if err := writeComparison(c, dirA, dirB, out); err != nil {
			return err
		}
	}
	switch {
	case len(c.Differences) == 0:
		return errors.New("nothing to compare: no conditions in common, or no quantity of like definition")
	case len(c.Refused) > 0:
		return errRefused
	}
	return nil
}

func compareText(w io.Writer, c *curve.Comparison, opt reports.TextOptions) error {
	rows := [][]string{{"quantity", "conditions", "A", "B", "B - A", "U (k = 2)", "relative", "B is"}}
	for _, d := range c.Differences {
		rows = append(rows, []string{d.Key, d.Where, reports.Num(d.A.Mean, d.A.U, d.Unit), reports.Num(d.B.Mean+d.Moved, d.B.U, d.Unit),
			reports.Num(d.Diff, d.U, d.Unit), unit.Format(2*d.U, d.Unit, 2), reports.Num(d.Diff/math.Abs(d.A.Mean), d.U/math.Abs(d.A.Mean), "1"), string(d.Verdict) + flagged(d.Flags)})
	}
	if err := (reports.Table{Rows: rows, Keys: 2, Words: reports.AllWords}).Write(w, opt); err != nil {
		return err
	}
	err := reports.WriteParagraph(w, "", c.Benches, opt)
	for _, part := range []struct {
		name  string
		lines []string
	}{{"unequal conditions", c.Unequal}, {"refused", c.Refused}, {"only in A", c.OnlyA}, {"only in B", c.OnlyB}} {
		for _, l := range part.lines {
			err = errors.Join(err, reports.WriteParagraph(w, part.name+": ", l, opt))
		}
	}
	return err
}

func flagged(flags []string) string {
	if len(flags) == 0 {
		return ""
	}
	return " (" + strings.Join(flags, "; ") + ")"
}

func compareJSON(w io.Writer, c *curve.Comparison) error {
	for _, d := range c.Differences {
		err := reports.WriteObject(w, "key", d.Key, "unit", d.Unit, "definition", d.Definition, "conditions", d.Where, "a", d.A.Captures, "b", d.B.Captures,
			"value_a", d.A.Mean, "u_a", d.A.U, "value_b", d.B.Mean, "u_b", d.B.U, "moved_b", d.Moved, "difference", d.Diff, "u", d.U, "shared", d.Shared, "verdict", string(d.Verdict), "flags", d.Flags)
		if err != nil {
			return err
		}
	}
	return reports.WriteObject(w, "scope", "campaigns", "benches", c.Benches, "unequal", c.Unequal, "refused", c.Refused, "only_a", c.OnlyA, "only_b", c.OnlyB)
}

func writeComparison(c *curve.Comparison, dirA, dirB string, out figureFlags) error {
	rows := [][]string{{"key", "unit", "definition", "conditions", "a", "u(a)", "b", "u(b)", "moved b", "b - a", "u", "shared", "verdict", "flags"}}
	num := func(x float64) string {
		if math.IsNaN(x) {
			return ""
		}
		return fmt.Sprint(x)
	}
	folder, err := newOutFolder(out.dir, compareMark, "pairs")
	if err != nil {
		return err
	}
	defer folder.abort()
	seen, count := map[string]bool{}, map[result.Edge]int{}
	for _, d := range c.Differences {
		rows = append(rows, []string{d.Key, d.Unit, d.Definition, d.Where, num(d.A.Mean), num(d.A.U), num(d.B.Mean), num(d.B.U), num(d.Moved), num(d.Diff), num(d.U), num(d.Shared), string(d.Verdict), strings.Join(d.Flags, "; ")})
		column, _ := result.FindColumn(d.Key)
		pair := string(column.Edge) + " " + d.A.Captures[0]
		if column.Edge == "" || seen[pair] {
			continue
		}
		seen[pair] = true
		count[column.Edge]++
		if err := writePair(c, d, column.Edge, count[column.Edge], dirA, dirB, folder, out.figures); err != nil {
			return err
		}
	}
	if err := folder.put(compareMark, func(w io.Writer) error { return reports.WriteRowsCSV(w, rows) }); err != nil {
		return err
	}
	return folder.commit()
}

// compareMark is a file that every folder of a comparison has.
const compareMark = "compare.csv"

// writePair draws the first shots of a matched pair over each other.
func writePair(c *curve.Comparison, d curve.Difference, edge result.Edge, n int, dirA, dirB string, folder *outFolder, opt reports.FolderOptions) error {
	a, err := reports.ReadEdgeCurves(dirA, d.A.Captures[0], edge)
	if err != nil {
		return err
	}
	b, err := reports.ReadEdgeCurves(dirB, d.B.Captures[0], edge)
	if err != nil {
		return err
	}
	notes := []string{"Each aligned where v passes half the bus; nothing is scaled."}
	if len(c.Unequal) > 0 {
		notes = append(notes, "Unequal: "+strings.ReplaceAll(strings.Join(c.Unequal, "   "), "_", " "))
	}
	figure, err := reports.DrawPair(a, b, edge, d.Where, notes, opt.Style)
	if err != nil {
		return err
	}
	return figure.WriteAll(fmt.Sprintf("pairs/%s-%02d", edge, n), opt.Formats, folder.put)
}

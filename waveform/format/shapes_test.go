package format

import (
	"fmt"
	"strings"
	"testing"
)

// Layouts by their shape, with the reading that stands in the text itself.
func TestShapes(t *testing.T) {
	nbsp, thin := "\u00a0", "\u202f"
	cases := map[string]struct{ head, row, want string }{
		"thousands by hard blanks":                    {"Time (ns);a (mV)\n", "1" + nbsp + "00%d,0;1" + thin + "250,5\n", "a [V] 10 from 1e-06 every 1e-09: 1.2505"},
		"thousands by the apostrophe of print":        {"Time (ns);a (mV)\n", "%d;1\u2019250.5\n", "a [V] 10 from 0 every 1e-09: 1.2505"},
		"thousands by thin blanks, tab":               {"Time (ns)\ta (mV)\tb (mA)\n", "%d,0\t1\u202f250,5\t78,1\n", "a [V] 10 from 0 every 1e-09: 1.2505; b [A]"},
		"thousands by blanks, tab":                    {"Time (ns)\ta (mV)\tb (mA)\n", "%d,0\t1 250,5\t78,1\n", "a [V] 10 from 0 every 1e-09: 1.2505; b [A]"},
		"units before names":                          {"[ns] t,[kV] a\n", "%d,0.5\n", "a [V] 10 from 0 every 1e-09: 500"},
		"a line between header and rows":              {"Time (s),a (V),b (A)\nSegment 1\n", "%de-9,2.5,3\n", "a [V] 10 from 0 every 1e-09: 2.5; b [A]"},
		"a line of two cells between header and rows": {"Time (s),a (V),b (A)\nSegment,1\n", "%de-9,2.5,3\n", "a [V] 10 from 0 every 1e-09: 2.5; b [A]"},
		"more names than fields":                      {"Time (s),a (V),b (A)\n", "%de-9,2.5\n", "refused: 3 names over rows of 2 fields"},
		"the name in the preamble":                    {"dt=1e-9\nname=Vds\nunit=V\n", "%d.5\n", "Vds [V] 10 from 0 every 1e-09: 0.5"},
		"stars with a sign":                           {"Time (s),a (V)\n", "%de-9,-***\n", "a [V] 10 from 0 every 1e-09: -Inf; over-range"},
		"over with a sign behind":                     {"Time (s),a (V)\n", "%de-9,OVER+\n", "a [V] 10 from 0 every 1e-09: +Inf; over-range"},
		"out of range":                                {"Time (s),a (V)\n", "%de-9,OUT OF RANGE\n", "a [V] 10 from 0 every 1e-09: +Inf; over-range"},
		"infinity of C":                               {"Time (s),a (V)\n", "%de-9,-1.#INF00\n", "a [V] 10 from 0 every 1e-09: -Inf; over-range"},
		"a comment between header and rows":           {"Time (s),a (V)\n# segment 1\n", "%de-9,2.5\n", "a [V] 10 from 0 every 1e-09: 2.5"},
		"units without time":                          {"XINCR,2e-9\nYUNIT,V,A\nCH1,CH2\n", "%d.5,7\n", "CH1 [V] 10 from 0 every 2e-09: 0.5; CH2 [A] 10 from 0 every 2e-09: 7"},
		"an interval for each channel":                {"Sample Interval,2e-9,4e-9\nCH1 (V),CH2 (A)\n", "%d.5,7\n", "CH1 [V] 10 from 0 every 2e-09: 0.5; CH2 [A] 10 from 0 every 4e-09: 7"},
		"an interval for some channels":               {"Sample Interval,2e-9,4e-9\nCH1 (V),CH2 (A),CH3 (V)\n", "%d.5,7,7\n", "refused: sample intervals from 2.000 ns to 4.000 ns in the header"},
		"samples in converter codes":                  {"Time (s),a (counts)\n", "%de-9,25\n", "refused: samples of a in \"counts\" without a scale"},
		"a units row of divisions":                    {"Time,a,b\ns,div,V\n", "%de-9,2.5,3\n", "refused: samples of a in \"div\" without a scale"},
		"converter codes with a scale":                {"Y Multiplier,0.5\nTime (s),a (counts)\n", "%de-9,25\n", "a [] 10 from 0 every 1e-09: 12.5"},
		"lowest and highest, named before":            {"Time (s),Min(a),Max(a)\n", "%de-9,2.5,3\n", "Min(a) [] 10 from 0 every 1e-09: 2.5; Max(a) [] 10 from 0 every 1e-09: 3; peak-detect"},
		"peak detect in the preamble":                 {"Acquisition Mode,Peak Detect\nTime (s),a (V)\n", "%de-9,2.5\n", "a [V] 10 from 0 every 1e-09: 2.5; peak-detect"},
		"Samples before time":                         {"Samples,Time (s),a (V)\n", "%d,%de-9,2.5\n", "a [V] 10 from 0 every 1e-09: 2.5"},
		"logic states beside":                         {"Time (s),a (V),D0\n", "%de-9,2.5,1\n", "a [V] 10 from 0 every 1e-09: 2.5"},
		"a formula as a name":                         {"TIME,CH1,MATH<CH1*CH2>\n", "%de-9,2.5,3\n", "CH1 [] 10 from 0 every 1e-09: 2.5; MATH1 [] 10 from 0 every 1e-09: 3"},
		"time with its unit behind an underscore":     {"time_ns,a,b\n", "%d,2.5,3\n", "a [] 10 from 0 every 1e-09: 2.5; b [] 10 from 0 every 1e-09: 3"},
		"a level in dB over Hz":                       {"X,Y\nHz,dB\n", "%d,-20.5\n", "refused: a spectrum"},
		"a histogram":                                 {"Bin (V),Count\n", "0.%d,20\n", "refused: no column that holds time"},
		"beyond a number":                             {"Time (s),a (V)\n", "%de-9,>800\n", "a [V] 10 from 0 every 1e-09: +Inf; over-range"},
	}
	for name, c := range cases {
		var b strings.Builder
		b.WriteString(c.head)
		for k := range 10 {
			b.WriteString(strings.ReplaceAll(c.row, "%d", string(rune('0'+k))))
		}
		if got := short(b.String()); !strings.HasPrefix(got, c.want) {
			t.Errorf("%s: %s; want %s", name, got, c.want)
		}
	}
}

// Start and increment stand in the first row alone.
func TestStatedOnce(t *testing.T) {
	var b strings.Builder
	b.WriteString("X,a,Start,Increment\n0,2.5,-1e-6,2e-9\n")
	for k := 1; k < 10; k++ {
		b.WriteString(string(rune('0'+k)) + ",2.5,,\n")
	}
	if got, want := short(b.String()), "a [] 10 from -1e-06 every 2e-09: 2.5"; got != want {
		t.Errorf("%s; want %s", got, want)
	}
}

// Sample numbers that count from the trigger tell where it was.
func TestCountFromTrigger(t *testing.T) {
	var b strings.Builder
	b.WriteString("Sample Interval,2e-9\nPoint,a (V)\n")
	for k := -5; k < 5; k++ {
		fmt.Fprintf(&b, "%d,2.5\n", k)
	}
	if got, want := short(b.String()), "a [V] 10 from -1e-08 every 2e-09: 2.5"; got != want {
		t.Errorf("%s; want %s", got, want)
	}
}

// Of several plots in a raw file each transient analysis is a capture.
func TestSpicePlots(t *testing.T) {
	plot := func(name, variables, values string) string {
		n := strings.Count(variables, "\n")
		return fmt.Sprintf("Title: x\nPlotname: %s\nFlags: real\nNo. Variables: %d\nNo. Points: %d\nVariables:\n%sValues:\n%s", name, n, strings.Count(values, "\n")/n, variables, values)
	}
	op := plot("Operating Point", "\t0\tv(a)\tvoltage\n\t1\tv(b)\tvoltage\n", "0\t1.5\n\t2.5\n")
	tran := plot("Transient Analysis", "\t0\ttime\ttime\n\t1\tv(a)\tvoltage\n", "0\t0\n\t1\n1\t1e-9\n\t2\n2\t2e-9\n\t3\n")
	other := strings.ReplaceAll(tran, "v(a)", "v(c)")
	for _, c := range []struct {
		raw  string
		want string
	}{
		{op + tran, "1 captures"},
		{tran + op + tran, "2 captures"},
		{op, "a.raw: a plot over v(a) (Operating Point): no record over time; expected a transient analysis"},
		{tran + other, "a.raw: analysis 2: captures of different channels in one file, the first and number 2; expected the same channels in each; split the file"},
	} {
		captures, err := readSpice(Input{Name: "a.raw", Data: []byte(c.raw)})
		got := fmt.Sprintf("%d captures", len(captures))
		if err != nil {
			got = err.Error()
		}
		if got != c.want {
			t.Errorf("%s; want %s", got, c.want)
		}
	}
}

// short reads a text and writes its channels on one line.
func short(text string) string {
	captures, err := readText(Input{Name: "a.csv", Data: []byte(text)})
	if err != nil {
		p := err.(*ParseError)
		if p.not != "" {
			return "refused: " + p.not
		}
		return "refused: " + p.Found
	}
	var all []string
	for _, tr := range captures[0].Traces {
		all = append(all, fmt.Sprintf("%s [%s] %d from %g every %.6g: %g", tr.Name, tr.Unit, tr.Len(), tr.T0, tr.Dt, tr.Y[0]))
	}
	for _, w := range captures[0].Warnings {
		all = append(all, string(w.Code))
	}
	return strings.Join(all, "; ")
}

// The units of vectors stand behind underscores as those of columns may; the
// columns of the one matrix in a container are time and channels.
func TestVectorNames(t *testing.T) {
	time, a := make([]float64, 20), make([]float64, 20)
	for k := range time {
		time[k], a[k] = float64(k), float64(k%3)
	}
	for _, c := range []struct {
		vs   []vector
		want string
	}{
		{[]vector{{name: "vds_V", y: a}, {name: "time_us", y: time}}, "vds [V] every 1e-06"},
		{[]vector{{name: "vds", y: a}, {name: "t_ns", y: time}}, "vds [] every 1e-09"},
		{[]vector{{name: "data_1", table: "data", y: time}, {name: "data_2", table: "data", y: a}}, "1 [] every 1"},
	} {
		got, err := fromVectors(Input{Name: "a.npz"}, "", c.vs, nil)
		if err != nil {
			t.Error(err)
			continue
		}
		if tr := got.Traces[0]; fmt.Sprintf("%s [%s] every %g", tr.Name, tr.Unit, tr.Dt) != c.want {
			t.Errorf("%s [%s] every %g; want %s", tr.Name, tr.Unit, tr.Dt, c.want)
		}
	}
}

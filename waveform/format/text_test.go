package format

import (
	"bytes"
	"compress/gzip"
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"slewbook/waveform"
)

// write puts a file into a fresh folder and returns its path.
func write(t *testing.T, name, content string) string {
	t.Helper()
	p := filepath.Join(t.TempDir(), name)
	if err := os.WriteFile(p, []byte(content), 0o666); err != nil {
		t.Fatal(err)
	}
	return p
}

// readOne reads a file that holds one capture.
func readOne(p string) (*waveform.Capture, error) {
	sources, _, err := Find(p, Options{})
	if err != nil {
		return nil, err
	}
	captures, err := sources[0].Read()
	if err != nil {
		return nil, err
	}
	return captures[0], nil
}

// rowsOf writes n rows of time (from t0 in steps of dt, by format) and the
// cells of a function.
func rowsOf(n int, t0, dt float64, format string, cells func(k int) string) string {
	var b strings.Builder
	for k := range n {
		fmt.Fprintf(&b, format+"%s\n", t0+float64(k)*dt, cells(k))
	}
	return b.String()
}

func pack(s string) string {
	var b bytes.Buffer
	z := gzip.NewWriter(&b)
	z.Write([]byte(s))
	z.Close()
	return b.String()
}

// codes lists the warnings as "code channel".
func codes(c *waveform.Capture) []string {
	var all []string
	for _, w := range c.Warnings {
		all = append(all, strings.TrimSpace(string(w.Code)+" "+w.Channel))
	}
	return all
}

const plain = "Time (s),Vds (V),Id (A)\n-2e-9,800,0.5\n-1e-9,790.5,1\n0,10,20\n1e-9,-1.5,20.5\n"

func TestLayouts(t *testing.T) {
	comma := strings.NewReplacer(",", ";", ".", ",").Replace(plain)
	type trace struct{ Name, Unit string }
	v, i := trace{"Vds", "V"}, trace{"Id", "A"}
	for _, c := range []struct {
		name, file, content string
		traces              []trace
		warnings            []string
	}{
		{"plain", "a.csv", plain, []trace{v, i}, nil},
		{"packed", "a.csv.gz", pack(plain), []trace{v, i}, nil},
		{"byte order mark and CRLF", "a.csv", "\xef\xbb\xbf" + strings.ReplaceAll(plain, "\n", "\r\n"), []trace{v, i}, nil},
		{"no line end at the end", "a.csv", strings.TrimSpace(plain), []trace{v, i}, nil},
		{"tab", "a.txt", strings.ReplaceAll(plain, ",", "\t"), []trace{v, i}, nil},
		{"semicolon", "a.csv", strings.ReplaceAll(plain, ",", ";"), []trace{v, i}, nil},
		{"decimal comma", "a.csv", comma, []trace{v, i}, nil},
		{"trailing separators", "a.csv", strings.ReplaceAll(plain, "\n", ",\n"), []trace{v, i}, nil},
		{"brackets", "a.csv", strings.NewReplacer("(", "[", ")", "]").Replace(plain), []trace{v, i}, nil},
		{"quotes", "a.csv", strings.Replace(plain, "Time (s),Vds (V),Id (A)", `"Time (s)","Vds (V)","Id (A)"`, 1), []trace{v, i}, nil},
		{"unit after in", "a.csv", strings.Replace(plain, "Time (s),Vds (V),Id (A)", "in s,Vds in V,Id in A", 1), []trace{v, i}, nil},
		{"units row", "a.csv", strings.Replace(plain, "Time (s),Vds (V),Id (A)", "TIME,Vds,Id\ns,V,A", 1), []trace{v, i}, nil},
		{"units row in words", "a.csv", strings.Replace(plain, "Time (s),Vds (V),Id (A)", ",Vds,Id\nsecond,Volts,Amp\n", 1), []trace{v, i}, nil},
		{"blank lines", "a.csv", "\n" + strings.Replace(plain, "\n", "\n\n", 3) + "\n  \n,,\n", []trace{v, i}, nil},
		{"no units", "a.csv", strings.Replace(plain, "Time (s),Vds (V),Id (A)", "TIME,Vds,Id", 1), []trace{{"Vds", ""}, {"Id", ""}}, nil},
		{"no header", "a.csv", strings.Replace(plain, "Time (s),Vds (V),Id (A)\n", "", 1), []trace{{"1", ""}, {"2", ""}}, []string{"no-names", "no-units"}},
		{"numbers for names", "a.csv", strings.Replace(plain, "Time (s),Vds (V),Id (A)", "x-axis,1,2\nsecond,Volt,Ampere", 1), []trace{{"1", "V"}, {"2", "A"}}, nil},
		{"preamble", "a.csv", "Model,BENCH SCOPE\nSample Interval,1e-9\n\n" + plain, []trace{v, i}, nil},
		{"comments", "a.csv", "# our bench\n# sample rate: 1 GS/s\n" + plain, []trace{v, i}, nil},
		{"constant words", "a.csv", withColumn(plain, "State", "RUN", "RUN", "RUN", "RUN"), []trace{v, i}, nil},
		{"changing words", "a.csv", withColumn(plain, "State", "idle", "idle", "on", "on"), []trace{v, i}, []string{"channel-text State"}},
		{"empty channel", "a.csv", withColumn(plain, "Vgs (V)", "", "", "", ""), []trace{v, i}, []string{"channel-empty Vgs"}},
		{"NaN channel", "a.csv", withColumn(plain, "Vgs (V)", "NaN", "NaN", "NaN", "NaN"), []trace{v, i}, []string{"channel-empty Vgs"}},
		{"second time column", "a.csv", withColumn(plain, "Time (s)", "-2e-9", "-1e-9", "0", "1e-9"), []trace{v, i}, nil},
		{"torn: fewer fields", "a.csv", plain + "2e-9,-1.5\n", []trace{v, i}, []string{"row-torn"}},
		{"torn: no number", "a.csv", plain + "2e-9,-1.5,-", []trace{v, i}, []string{"row-torn"}},
		{"torn: after the separator", "a.csv", plain + "2e-9,-1.5,", []trace{v, i}, []string{"row-torn"}},
		{"padded with NUL", "a.csv", plain + "\x00\x00\x00", []trace{v, i}, []string{"trailing-bytes"}},
		{"other record length", "a.csv", "Record Length,1000\n\n" + plain, []trace{v, i}, []string{"record-length"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			got, err := readOne(write(t, c.file, c.content))
			if err != nil {
				t.Fatal(err)
			}
			var traces []trace
			for _, tr := range got.Traces {
				traces = append(traces, trace{tr.Name, tr.Unit})
			}
			if d := cmp.Diff(c.traces, traces); d != "" {
				t.Error(d)
			}
			if d := cmp.Diff(c.warnings, codes(got)); d != "" {
				t.Error(d, got.Warnings)
			}
			for k, want := range [][]float64{{800, 790.5, 10, -1.5}, {0.5, 1, 20, 20.5}} {
				if d := cmp.Diff(want, got.Traces[k].Y); d != "" {
					t.Error(d)
				}
				if tr := got.Traces[k]; tr.T0 != -2e-9 || math.Abs(tr.Dt/1e-9-1) > 1e-12 {
					t.Errorf("axis from %v every %v", tr.T0, tr.Dt)
				}
			}
		})
	}
}

// withColumn adds a column to plain.
func withColumn(table, name string, cells ...string) string {
	rows := strings.Split(strings.TrimSpace(table), "\n")
	for k := range rows {
		rows[k] += "," + append([]string{name}, cells...)[k]
	}
	return strings.Join(rows, "\n") + "\n"
}

// Prefixes move the decimal point before the number is rounded, so a kilovolt
// reads as the same float as its volts.
func TestPrefixes(t *testing.T) {
	c, err := readOne(write(t, "a.csv", "t [µs],u [kV],i [mA]\n0.1000,0.3929688,-78.125\n0.1016,0.39375,39.0625\n0.1032,0.4,1\n"))
	if err != nil {
		t.Fatal(err)
	}
	u, i := c.Traces[0], c.Traces[1]
	if u.Unit != "V" || i.Unit != "A" || u.Y[0] != 392.9688 || i.Y[0] != -78.125e-3 || u.T0 != 0.1e-6 || math.Abs(u.Dt/1.6e-9-1) > 1e-9 {
		t.Errorf("%+v %+v", u, i)
	}
}

// A name stands for one trace, also where the file uses it twice.
func TestSameNames(t *testing.T) {
	c, err := readOne(write(t, "a.csv", "Time (s),Voltage (V),Voltage (V)\n0,1,2\n1e-9,1,2\n2e-9,1,2\n"))
	if err != nil {
		t.Fatal(err)
	}
	if c.Traces[0].Name != "Voltage" || c.Traces[1].Name != "Voltage (column 3)" {
		t.Error(c.Traces[0].Name, c.Traces[1].Name)
	}
}

func TestSampleWords(t *testing.T) {
	c, err := readOne(write(t, "a.csv", "Time (s),a (V),b (V)\n0,inf,1\n1e-9,-inf,NaN\n2e-9,****,\n3e-9,1,2\n"))
	if err != nil {
		t.Fatal(err)
	}
	inf, nan := math.Inf(1), math.NaN()
	want := [][]float64{{inf, -inf, inf, 1}, {1, nan, nan, 2}}
	for k, tr := range c.Traces {
		for n, y := range tr.Y {
			if y != want[k][n] && !(math.IsNaN(y) && math.IsNaN(want[k][n])) {
				t.Errorf("%s[%d] = %v, want %v", tr.Name, n, y, want[k][n])
			}
		}
	}
	if d := cmp.Diff([]string{"over-range a", "missing-samples b"}, codes(c)); d != "" {
		t.Error(d)
	}
}

// A last row without line end is whole where the column's form allows it, and
// torn where every other number has more digits.
func TestTornByForm(t *testing.T) {
	body := "Time (s),a (V)\n" + rowsOf(40, 0, 1e-9, "%.4e,", func(k int) string { return fmt.Sprintf("%.3e", 1+0.001*float64(k)) })
	body = strings.TrimSpace(body)
	for cut, want := range map[int]int{0: 40, 1: 39, 3: 39, 6: 39} {
		c, err := readOne(write(t, "a.csv", body[:len(body)-cut]))
		if err != nil {
			t.Fatal(err)
		}
		if got := len(c.Traces[0].Y); got != want || (cut > 0) != (len(c.Warnings) == 1) {
			t.Errorf("cut by %d: %d rows, %v; want %d", cut, got, c.Warnings, want)
		}
	}
}

func TestErrors(t *testing.T) {
	rows := rowsOf(60, 0, 1e-9, "%.4e,", func(k int) string { return "5,0.1" })
	head := "Time (s),Vds (V),Id (A)\n"
	for _, c := range []struct{ name, content, want string }{
		{"empty", "", "FILE: the file is empty; expected a table with a time column and at least one column of samples"},
		{"blank", " \n\n", "FILE: the file is empty; expected a table with a time column and at least one column of samples"},
		{"junk", "\x93\x01\xfe junk", `FILE: bytes of no known format, which start "\x93\x01\xfe junk"; expected one of ` + formatNames() + `, plain or packed`},
		{"one sample", head + "0,1,2\n", "FILE: one row of samples; expected at least two"},
		{"header only", head, `FILE:1: no rows under the header "Time (s),Vds (V),Id (A)"; expected a table with a time column and at least one column of samples; export again; the instrument may have had no record`},
		{"settings", "Setting,Value\nTimebase,1 us/div\n", `FILE:1: text without a table of samples, which starts "Setting,Value"; expected a table with a time column and at least one column of samples`},
		{"short row", head + rows + "6.0e-8,5\n" + "6.1e-8,5,0.1\n", "FILE:62: a row of 2 fields; expected 3 as in the rows above"},
		{"long row", head + rows + "6.0e-8,5,0.1,7\n" + "6.1e-8,5,0.1\n", "FILE:62: a row of 4 fields; expected 3 as in the rows above"},
		{"word", head + rows + "6.0e-8,five,0.1\n" + "6.1e-8,5,0.1\n", `FILE:62: "five" in column 2 (Vds); expected a number`},
		{"no time", head + rows + "NaN,5,0.1\n" + "6.1e-8,5,0.1\n", "FILE:62: no time in column 1 (Time); expected a time stamp in every row"},
		{"backward", head + rows + "2.0e-8,5,0.1\n" + "6.1e-8,5,0.1\n", "FILE:62: time goes back from 59.00 ns to 20.00 ns; expected time stamps that grow; see whether the file holds several captures, or another column is the time"},
		{"all NaN", head + rowsOf(20, 0, 1e-9, "%.4e,", func(int) string { return "NaN,NaN" }), "FILE: no sample in any column; expected at least one column with numbers"},
		{"spectrum", "X (Hz),Y (V)\n0,1\n1e6,2\n2e6,3\n", "FILE:2: a first column in Hz: a spectrum; expected a record over time"},
		{"no time column", "Vds (V),Id (A)\n0,1\n1,2\n2,3\n", "FILE: no column that holds time; expected a time column, or a sample interval in the preamble; export with time, or give the interval in the set-up file ([file] interval)"},
		{"sample numbers", "n,a,b\n" + rowsOf(2000, 0, 1, "%.0f,", func(int) string { return "1,2" }), "FILE: sample numbers in the first column and no time; expected a time column, or a sample interval in the preamble; export with time, or give the interval in the set-up file ([file] interval)"},
		{"codes", "Point Format,CODE\nY Multiplier,0.1\n\n" + head + rows, "FILE: converter codes without a multiplier for each channel; expected samples in volts or amperes; export values instead of codes"},
		{"cut gzip", pack(head + rows)[:60], "FILE: a gzip file that is cut short; copy it again from the instrument"},
	} {
		t.Run(c.name, func(t *testing.T) {
			p := write(t, "shot.csv", c.content)
			_, err := readOne(p)
			if err == nil {
				t.Fatal("read without an error")
			}
			var parse *ParseError
			if !errors.As(err, &parse) {
				t.Errorf("a %T, not a *ParseError", err)
			}
			if d := cmp.Diff(c.want, strings.ReplaceAll(err.Error(), p, "FILE")); d != "" {
				t.Error(d)
			}
		})
	}
}

// Long files are parsed in blocks side by side; blank lines in them leave no
// holes and line numbers stay right.
func TestBlocks(t *testing.T) {
	const n = 120_000
	row := func(k int) string { return fmt.Sprintf("%d,%d", k, -k) }
	body := "Time (s),a (V),b (A)\n" + rowsOf(n/2, 0, 1e-9, "%.9e,", row) + "\n\n" +
		rowsOf(n/2, n/2*1e-9, 1e-9, "%.9e,", func(k int) string { return row(k + n/2) })
	c, err := readOne(write(t, "a.csv", body))
	if err != nil {
		t.Fatal(err)
	}
	if len(c.Traces[0].Y) != n || len(c.Warnings) > 0 {
		t.Fatal(len(c.Traces[0].Y), c.Warnings)
	}
	for k := range n {
		if c.Traces[0].Y[k] != float64(k) || c.Traces[1].Y[k] != -float64(k) {
			t.Fatalf("row %d holds %v, %v", k, c.Traces[0].Y[k], c.Traces[1].Y[k])
		}
	}
	_, err = readOne(write(t, "a.csv", body+"1,oops,2\n1,2,3\n"))
	if want := fmt.Sprintf(":%d: ", n+4); err == nil || !strings.Contains(err.Error(), want) {
		t.Errorf("%v; want line %s", err, want)
	}
}

// If a text parses, Check holds, and nothing panics.
func FuzzText(f *testing.F) {
	f.Add([]byte(plain))
	f.Add([]byte("Model,X\nSample Interval,1e-9\n\nTIME,CH1\n0,1\n1e-9,inf\n2e-9,****\n"))
	f.Add([]byte("t;a\n0,5;1,5\n0,6;NaN\n0,7;2"))
	f.Add([]byte("1\t2\r3\t4\r5\t"))
	f.Fuzz(func(t *testing.T, data []byte) {
		if !isText(data, "") {
			return
		}
		captures, err := readText(Input{Name: "fuzz", Data: data})
		if err != nil {
			return
		}
		for _, c := range captures {
			if err := c.Check(); err != nil {
				t.Error(err)
			}
		}
	})
}

func BenchmarkText(b *testing.B) {
	body := []byte("Time (s),a (V),b (A),c (V)\n" + rowsOf(1_000_000, -1e-3, 8e-10, "%.9e,", func(k int) string {
		return fmt.Sprintf("%.6g,%.6g,%.6g", 800+float64(k%97), 0.0390625*float64(k%89), -4.03125)
	}))
	b.SetBytes(int64(len(body)))
	b.ReportAllocs()
	for b.Loop() {
		if _, err := readText(Input{Name: "bench", Data: body}); err != nil {
			b.Fatal(err)
		}
	}
}

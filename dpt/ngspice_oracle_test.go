//go:build oracle

package dpt_test

import (
	"bytes"
	"compress/gzip"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"flag"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"slewbook/dpt"
)

var update = flag.Bool("update", false, "write what ngspice gives to testdata/ngspice")

// measured matches what the netlists print: a name in full digits.
var measured = regexp.MustCompile(`(?m)^([a-z_0-9]+) = (\S+)$`)

// simulate runs a netlist and returns the answers, its capture as CSV and the
// simulator's version.
func simulate(t *testing.T, name string) (values map[string]float64, capture []byte, version string) {
	t.Helper()
	dir := t.TempDir()
	for _, f := range []string{name + ".cir", "measure.sp"} {
		b, err := os.ReadFile(filepath.Join(ngspiceDir, f))
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(dir, f), b, 0o666); err != nil {
			t.Fatal(err)
		}
	}
	cmd := exec.Command("ngspice", "-b", name+".cir")
	cmd.Dir = dir
	cmd.Env = append(os.Environ(), "NGSPICE_MEAS_PRECISION=12")
	out, err := cmd.CombinedOutput()
	if err != nil {
		t.Fatalf("ngspice (Debian: apt-get install ngspice): %v\n%s", err, out)
	}
	if bytes.Contains(out, []byte("failed!")) || bytes.Contains(out, []byte("Timestep too small")) {
		t.Fatalf("ngspice did not come through:\n%s", out)
	}
	values = map[string]float64{}
	for _, m := range measured.FindAllSubmatch(out, -1) {
		x, err := strconv.ParseFloat(string(m[2]), 64)
		if err != nil {
			t.Fatalf("%s: %v", m[0], err)
		}
		values[string(m[1])] = x
	}
	v := regexp.MustCompile(`ngspice-[0-9.]+`).Find(out)
	return values, scopeTable(t, filepath.Join(dir, name+".dat")), string(v)
}

// scopeTable turns ngspice's evenly resampled columns into the table of a
// scope: 1 mV, 0.1 mA.
func scopeTable(t *testing.T, file string) []byte {
	t.Helper()
	b, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	var out bytes.Buffer
	out.WriteString("Time (s),Vds (V),Id (A),Vgs (V)\n")
	for line := range strings.Lines(string(b)) {
		var x [4]float64
		if _, err := fmt.Sscan(line, &x[0], &x[1], &x[2], &x[3]); err != nil {
			t.Fatalf("%s: %q: %v", file, line, err)
		}
		fmt.Fprintf(&out, "%.10g,%.3f,%.4f,%.4f\n", x[0], x[1], x[2], x[3])
	}
	return out.Bytes()
}

// energyName matches the name of a window's energy, which a netlist cannot
// write with a point and a hyphen.
var energyName = regexp.MustCompile(`^(e_off|e_on)_(\w+)_(\w+)$`)

// sortAnswers tells quantities from instants and gives them their keys.
func sortAnswers(values map[string]float64) (quantities map[string]answer, instants map[string]float64) {
	quantities, instants = map[string]answer{}, map[string]float64{}
	for name, x := range values {
		if strings.HasPrefix(name, "off_") || strings.HasPrefix(name, "on_") {
			instants[name] = x
			continue
		}
		unit := map[byte]string{'v': "V", 'i': "A", 't': "s", 'e': "J", 'q': "C"}[name[0]]
		switch {
		case strings.HasSuffix(name, "overshoot"):
			unit = "1"
		case strings.HasPrefix(name, "td_"):
			unit = "s"
		case strings.HasPrefix(name, "dvdt"):
			unit = "V/s"
		case strings.HasPrefix(name, "didt"):
			unit = "A/s"
		}
		quantities[energyName.ReplaceAllString(name, "$1.$2-$3")] = answer{x, unit}
	}
	return quantities, instants
}

func fileHash(t *testing.T, name string) string {
	t.Helper()
	b, err := os.ReadFile(filepath.Join(ngspiceDir, name))
	if err != nil {
		t.Fatal(err)
	}
	sum := sha256.Sum256(b)
	return hex.EncodeToString(sum[:])
}

// ngspice, run here and now on the netlists, gives what is stored, and what is
// stored is what its hash says. Another build or machine may differ by the
// solver's tolerance (1e-4): every value within 5e-4 of its own, and samples
// within that of full scale.
func TestNgspiceLive(t *testing.T) {
	for _, name := range circuits {
		t.Run(name, func(t *testing.T) {
			values, table, version := simulate(t, name)
			quantities, instants := sortAnswers(values)
			if *update {
				store(t, name, simulated{Simulator: version, Device: deviceOf(name), Inductor: inductorOf(t, name),
					Quantities: quantities, Instants: instants}, table)
			}
			stored := readSimulated(t, name)
			for file, want := range map[string]string{name + ".cir": stored.Netlist, "measure.sp": stored.Commands, name + ".csv.gz": stored.Capture} {
				if got := fileHash(t, file); got != want {
					t.Errorf("%s has changed since the answers were stored (sha256 %s, stored %s): run this test with -update", file, got, want)
				}
			}
			if len(quantities) != len(stored.Quantities) || len(instants) != len(stored.Instants) {
				t.Errorf("ngspice gives %d quantities and %d instants, stored are %d and %d",
					len(quantities), len(instants), len(stored.Quantities), len(stored.Instants))
			}
			for key, want := range stored.Quantities {
				if got, ok := quantities[key]; !ok || !(math.Abs(got.Value-want.Value) <= 5e-4*math.Abs(want.Value)+1e-6*fullScale[want.Unit]) {
					t.Errorf("%s: ngspice gives %.8g %s, stored %.8g", key, got.Value, got.Unit, want.Value)
				}
			}
			for key, want := range stored.Instants {
				if got, ok := instants[key]; !ok || !(math.Abs(got-want) <= 20e-12) {
					t.Errorf("%s: ngspice gives %.6f ns, stored %.6f ns", key, got*1e9, want*1e9)
				}
			}
			sameTable(t, table, unzip(t, name+".csv.gz"))
		})
	}
}

// fullScale is what "nearly nothing" is judged by.
var fullScale = map[string]float64{"V": 1000, "A": 100, "1": 1}

func deviceOf(name string) dpt.Device {
	if strings.HasPrefix(name, "igbt") {
		return dpt.IGBT
	}
	return dpt.MOSFET
}

// inductorOf reads the load inductance from the netlist [H].
func inductorOf(t *testing.T, name string) float64 {
	t.Helper()
	b, err := os.ReadFile(filepath.Join(ngspiceDir, name+".cir"))
	if err != nil {
		t.Fatal(err)
	}
	m := regexp.MustCompile(`(?m)^Lload \S+ \S+ (\d+)u$`).FindSubmatch(b)
	if m == nil {
		t.Fatalf("%s.cir has no line for Lload in µH", name)
	}
	x, _ := strconv.ParseFloat(string(m[1]), 64)
	return x / 1e6
}

func store(t *testing.T, name string, s simulated, table []byte) {
	t.Helper()
	var z bytes.Buffer
	w, _ := gzip.NewWriterLevel(&z, gzip.BestCompression)
	if _, err := w.Write(table); err != nil {
		t.Fatal(err)
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	write := func(file string, b []byte) {
		if err := os.WriteFile(filepath.Join(ngspiceDir, file), b, 0o666); err != nil {
			t.Fatal(err)
		}
	}
	write(name+".csv.gz", z.Bytes())
	s.Netlist, s.Commands, s.Capture = fileHash(t, name+".cir"), fileHash(t, "measure.sp"), fileHash(t, name+".csv.gz")
	b, err := json.MarshalIndent(s, "", " ")
	if err != nil {
		t.Fatal(err)
	}
	write(name+".json", append(b, '\n'))
}

func unzip(t *testing.T, file string) []byte {
	t.Helper()
	f, err := os.Open(filepath.Join(ngspiceDir, file))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r, err := gzip.NewReader(f)
	if err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	if _, err := b.ReadFrom(r); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// sameTable compares two tables number by number, to 0.2 % of each column's
// full scale: 5e-4 of the value and what an edge moves in a few ps.
func sameTable(t *testing.T, got, want []byte) {
	t.Helper()
	a, b := strings.Split(string(got), "\n"), strings.Split(string(want), "\n")
	if len(a) != len(b) || a[0] != b[0] {
		t.Fatalf("the live table has %d lines under %q, the stored one %d under %q", len(a), a[0], len(b), b[0])
	}
	scale := [4]float64{1e-9, 1000, 100, 20}
	for k := 1; k+1 < len(a); k++ {
		x, y := strings.Split(a[k], ","), strings.Split(b[k], ",")
		for c := range scale {
			p, errP := strconv.ParseFloat(x[c], 64)
			q, errQ := strconv.ParseFloat(y[c], 64)
			if errP != nil || errQ != nil || math.Abs(p-q) > 2e-3*scale[c] {
				t.Fatalf("line %d: live %q, stored %q", k+1, a[k], b[k])
			}
		}
	}
}

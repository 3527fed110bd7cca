package wavetest

import (
	"bytes"
	"crypto/sha256"
	"fmt"
	"os"
	"regexp"
	"strconv"
	"strings"
	"testing"
)

// Spice returns the results of the .meas statements that ngspice, a general-purpose
// circuit simulator, printed for testdata/NAME.cir into testdata/NAME.txt. The text
// names the SHA-256 of the netlist it belongs to.
func Spice(t testing.TB, name string) map[string]float64 {
	t.Helper()
	netlist, err := os.ReadFile("testdata/" + name + ".cir")
	if err != nil {
		t.Fatal(err)
	}
	stored, err := os.ReadFile("testdata/" + name + ".txt")
	if err != nil {
		t.Fatal(err)
	}
	// A checkout on Windows may have changed the ends of lines.
	netlist = bytes.ReplaceAll(netlist, []byte("\r\n"), []byte("\n"))
	if sum := fmt.Sprintf("%x", sha256.Sum256(netlist)); !strings.Contains(string(stored), sum) {
		t.Fatalf("%s.txt does not belong to %s.cir, whose SHA-256 is %s; run ngspice again", name, name, sum)
	}
	return Measured(string(stored))
}

// Measured picks the results of .meas statements out of ngspice's output.
func Measured(text string) map[string]float64 {
	out := map[string]float64{}
	for _, m := range regexp.MustCompile(`(?m)^([a-z]\w*) += +(\S+)`).FindAllStringSubmatch(text, -1) {
		if x, err := strconv.ParseFloat(m[2], 64); err == nil {
			out[m[1]] = x
		}
	}
	return out
}

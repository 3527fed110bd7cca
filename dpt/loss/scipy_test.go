package loss

import (
	"bytes"
	"crypto/sha256"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"testing"

	"slewbook/dpt/curve"
)

// switched is what testdata/converter.py prints: losses of whole converters from their
// switched waveforms, by SciPy.
type switched struct {
	Script     string             `json:"script_sha256"`
	Buck       map[string]float64 `json:"buck"`
	ThreePhase map[string]float64 `json:"three_phase"`
	Ripple     map[string]float64 `json:"three_phase_ripple"`
}

func readSwitched(t *testing.T, text []byte) switched {
	t.Helper()
	var s switched
	if err := json.Unmarshal(text, &s); err != nil {
		t.Fatal(err)
	}
	return s
}

// TestAgainstSwitchedWaveforms holds the sums against the same grids read along the
// switched waveforms of the whole converter.
func TestAgainstSwitchedWaveforms(t *testing.T) {
	text, err := os.ReadFile("testdata/converter.json")
	if err != nil {
		t.Fatal(err)
	}
	script, err := os.ReadFile("testdata/converter.py")
	if err != nil {
		t.Fatal(err)
	}
	want := readSwitched(t, text)
	// A checkout on Windows may have changed the ends of lines.
	if sum := fmt.Sprintf("%x", sha256.Sum256(bytes.ReplaceAll(script, []byte("\r\n"), []byte("\n")))); sum != want.Script {
		t.Fatalf("converter.json is that of a script with the SHA-256 %s, not of converter.py, %s; run it again", want.Script, sum)
	}
	compareSwitched(t, want)
}

// compareSwitched works out the same converters. Of the buck SciPy's output voltage
// ripples too, and the current falls within a dead time: 2e-5 of the diode's losses. Of
// the three-phase one the duty of a cycle is taken at its middle, while SciPy's legs
// switch where sine and carrier cross; that moves edges and with them ripple by up to
// 1/320 of a cycle's share of the sine: 1e-3 of what conducts.
func compareSwitched(t *testing.T, want switched) {
	e, err := ReadGrids("../../examples/converter/grids")
	if err != nil {
		t.Fatal(err)
	}
	example := func(name string, f float64) Converter {
		path := "../../examples/converter/" + name + ".toml"
		text, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		c, err := Parse(path, text)
		if err != nil {
			t.Fatal(err)
		}
		c.Fsw, c.Cooling = []float64{f}, New().Cooling
		c.Cooling.Tj = 373.15
		return c
	}
	compare := func(name string, c Converter, want map[string]float64, rel float64) {
		l := point(t, c, e, curve.Current)
		for key, x := range want {
			if isFigure(key) {
				near(t, name+": "+key, l.Value(0, key), x, rel)
			}
		}
	}
	compare("buck", example("buck", 50e3), want.Buck, 5e-5)
	c := example("inverter", 16e3)
	c.Synchronous, c.Dead = false, math.NaN()
	compare("three-phase", c, want.ThreePhase, 2e-4)
	c.L = 150e-6
	compare("three-phase with ripple", c, want.Ripple, 2e-3)
}
